// SPDX-License-Identifier: MIT
#include <optional>
#include <string>

#include <rewound/job/judge.hpp>
#include <rewound/job/policy_file.hpp>
#include <rewound/job/record.hpp>
#include <rewound/report/json.hpp>
#include <rewound/report/text.hpp>

#include "document_from_python.hpp"
#include "registers.hpp"

namespace rewound::python {

namespace {

/// The policy of a path, of a dict with the policy file's keys, or the default one.
verdict::policy policy_from_python(const py::object& policy) {
  if (policy.is_none()) return job::default_policy();
  if (py::isinstance<py::dict>(policy)) return job::policy_from(document_from(policy));
  return job::load_policy(policy.cast<std::string>());
}

job::result judge(const job::record& record, const job::record* earlier, const py::object& policy) {
  const auto rules = policy_from_python(policy);
  const auto before = earlier != nullptr ? std::optional<job::record>(*earlier) : std::nullopt;
  const py::gil_scoped_release unlocked;
  return job::judge(record, before, rules);
}

py::object calendar_day(const job::record& record) {
  const auto& day = record.visit.day;
  return py::module_::import("datetime").attr("date")(day.year, day.month, day.day);
}

std::string record_repr(const job::record& record) {
  return "<rewound.Record " + record.machine.id + ", " + record.visit.day.iso() + ", " +
         std::to_string(record.run_up.size()) + " run-up curves>";
}

void register_record(py::module_& module) {
  py::class_<job::record>(module, "Record", R"(All that was read on one machine in one visit.

Made by :func:`rewound.load_record` or :meth:`from_dict`; it does not change afterwards.)")
      .def_static(
          "from_dict", [](const py::object& values) { return job::record_from(document_from(values)); },
          py::arg("values"), R"(Make a record of a dict with the keys of the record file.

Parameters
----------
values : dict
    Same keys, units and nesting as the TOML file (``format``, ``machine``, ``visit``, ``run_up`` ...).
    Values may be dict, list, tuple, str, bool, int, float, datetime.date, and NumPy arrays or scalars
    of these.

Returns
-------
Record

Raises
------
InputError
    A key is unknown or missing, or a value cannot be; ``field`` names it.)")
      .def_property_readonly("machine", [](const job::record& self) { return self.machine.id; },
                             "Name of the machine (str).")
      .def_property_readonly("date", &calendar_day, "Day of the visit (datetime.date).")
      .def_property_readonly("speeds", [](const job::record& self) { return self.machine.speeds; },
                             "Names of the speeds, fastest first (list of str).")
      .def("__repr__", &record_repr);
}

}  // namespace

void register_job(py::module_& module) {
  register_record(module);
  py::class_<job::result>(module, "Judgement", "A judgement as computed; rewound.Result shows it.")
      .def("to_json", &report::json_report)
      .def("to_text", &report::text_report);
  module.def("load_record", &job::load_record, py::arg("path"), py::call_guard<py::gil_scoped_release>());
  module.def("judge", &judge, py::arg("record"), py::arg("earlier").none(true), py::arg("policy").none(true));
}

}  // namespace rewound::python
