// SPDX-License-Identifier: MIT
#include <optional>
#include <string>

#include <rewound/job/judge.hpp>
#include <rewound/job/learn.hpp>
#include <rewound/job/policy_file.hpp>
#include <rewound/job/record.hpp>
#include <rewound/job/write_file.hpp>
#include <rewound/report/json.hpp>
#include <rewound/report/text.hpp>

#include "document_from_python.hpp"
#include "policy_from_python.hpp"
#include "registers.hpp"

namespace rewound::python {

verdict::policy policy_from_python(const py::object& policy) {
  if (policy.is_none()) return job::default_policy();
  if (py::isinstance<py::dict>(policy)) return job::policy_from(document_from(policy));
  return job::load_policy(policy.cast<std::string>());
}

namespace {

job::result judge(const job::record& record, const job::reference* good, const job::record* earlier,
                  const py::object& policy) {
  const auto rules = policy_from_python(policy);
  job::sources compare_with;
  if (earlier != nullptr) compare_with.earlier = *earlier;
  if (good != nullptr) compare_with.good = *good;
  const py::gil_scoped_release unlocked;
  return job::judge(record, compare_with, rules);
}

void register_reference(py::module_& module) {
  py::class_<job::reference>(module, "Reference", R"(What good machines of one model draw.

Made by :func:`rewound.learn` or :func:`rewound.load_reference`; it does not change afterwards.)")
      .def_property_readonly("model", [](const job::reference& self) { return self.model; }, "Name of the model (str).")
      .def_property_readonly("machines", [](const job::reference& self) { return self.machines.size(); },
                             "Number of good machines behind it (int).")
      .def_property_readonly("set_aside", [](const job::reference& self) { return self.set_aside; },
                             "Machines that did not fit the others and were left out (list of str).")
      .def("to_text", [](const job::reference& self) { return job::reference_text(self, job::default_policy()); },
           "The reference as the text of its file (str).")
      .def("__repr__", [](const job::reference& self) {
        return "<rewound.Reference " + self.model + ", " + std::to_string(self.machines.size()) + " machines>";
      });
  module.def("load_reference", &job::load_reference, py::arg("path"));
  module.def("learn", [](const std::vector<job::record>& records, const py::object& policy) {
    const auto rules = policy_from_python(policy);
    const py::gil_scoped_release unlocked;
    return job::learn(records, rules);
  }, py::arg("records"), py::arg("policy").none(true));
  module.def("save_reference", [](const job::reference& good, const std::string& path) {
    job::write_whole_file(path, job::reference_text(good, job::default_policy()));
  }, py::arg("reference"), py::arg("path"));
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
  register_reference(module);
  module.def("judge", &judge, py::arg("record"), py::arg("reference").none(true), py::arg("earlier").none(true), py::arg("policy").none(true));
}

}  // namespace rewound::python
