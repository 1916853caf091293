// SPDX-License-Identifier: MIT
#include <cmath>
#include <optional>
#include <string>
#include <tuple>

#include <rewound/base/error.hpp>
#include <rewound/checks/expected_current.hpp>
#include <rewound/job/judge.hpp>
#include <rewound/job/learn.hpp>
#include <rewound/job/policy_file.hpp>
#include <rewound/job/record.hpp>
#include <rewound/job/write_file.hpp>
#include <rewound/measurement/distribution.hpp>
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

using doubles = py::array_t<double, py::array::c_style | py::array::forcecast>;

std::tuple<doubles, doubles, doubles> expected_band(const job::reference& good, const std::string& speed,
                                                    const doubles& voltage, double level, double current_u,
                                                    double voltage_u) {
  base::expect(level > 0.0 && level < 1.0, "level", level, "a number between 0 and 1");
  const auto pooled = job::pool_reference(good, job::between_machines(job::default_policy()));
  std::size_t place = 0;
  while (place < pooled.blocks.size() &&
         (pooled.blocks[place].speed != speed || pooled.blocks[place].what != fit::channel::current))
    ++place;
  if (place == pooled.blocks.size())
    throw base::error(base::error_code::not_a_choice, {"", 0, "speed"}, "\"" + speed + "\"", "a speed of the reference");
  checks::expected_current_input input{pooled.population, pooled.shapes[place], static_cast<Eigen::Index>(3 * place)};
  input.ammeter_uncertainty = current_u;
  input.voltmeter_uncertainty = voltage_u;
  doubles value(voltage.size()), low(voltage.size()), high(voltage.size());
  for (py::ssize_t i = 0; i < voltage.size(); ++i) {
    input.x = voltage.data()[i] / good.rated_voltage_V;
    const auto expected = checks::expected_current(input);
    const double half = measurement::coverage_factor(level, expected.degrees_of_freedom) * expected.log_uncertainty;
    value.mutable_data()[i] = std::exp(expected.log_value);
    low.mutable_data()[i] = std::exp(expected.log_value - half);
    high.mutable_data()[i] = std::exp(expected.log_value + half);
  }
  return {value, low, high};
}

void register_reference(py::module_& module) {
  py::class_<job::reference>(module, "Reference", R"(What good machines of one model draw.

Made by :func:`rewound.learn` or :func:`rewound.load_reference`; it does not change afterwards.)")
      .def_property_readonly("model", [](const job::reference& self) { return self.model; }, "Name of the model (str).")
      .def_property_readonly("machines", [](const job::reference& self) { return self.machines.size(); },
                             "Number of good machines behind it (int).")
      .def_property_readonly("set_aside", [](const job::reference& self) {
        std::vector<std::string> names;
        for (const auto& machine : self.set_aside) names.push_back(machine.visit_name());
        return names;
      },
                             "Machines that did not fit the others and were left out (list of str).")
      .def("expected", &expected_band, py::arg("speed"), py::arg("voltage"), py::arg("level") = 0.95,
           py::arg("current_u") = 0.0, py::arg("voltage_u") = 0.0, R"(Current that one more good machine draws, with its band.

Parameters
----------
speed : str
    A speed that the reference knows.
voltage : array_like, shape (m,)
    Voltages [V], above 0.
level : float
    Coverage of the two-sided band, between 0 and 1.
current_u, voltage_u : float
    Relative standard uncertainties of the reading to be made [1], gain errors included unless they cancel.

Returns
-------
value, low, high : ndarray, shape (m,)
    Currents [A]: mean curve of the good machines, and the band for one new machine of the model: spread between
    machines, uncertainty of the mean, the reading. Spread is the default policy's prior with what the machines show.

Raises
------
PreconditionError
    A voltage is not above 0, or the level is outside (0, 1).
InputError
    The reference does not know the speed.)")
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

Made by :func:`rewound.load_record`, :meth:`from_dict` or :func:`rewound.simulate`; it does not change afterwards.)")
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
      .def("to_text", &job::record_text, "The record as the text of its file, TOML (str).")
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
