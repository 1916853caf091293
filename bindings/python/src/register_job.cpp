// SPDX-License-Identifier: MIT
#include <algorithm>
#include <functional>
#include <optional>
#include <string>
#include <tuple>
#include <vector>

#include <rewound/base/error.hpp>
#include <rewound/job/judge.hpp>
#include <rewound/job/learn.hpp>
#include <rewound/job/pictures.hpp>
#include <rewound/job/policy_file.hpp>
#include <rewound/job/spread.hpp>
#include <rewound/job/expected_band.hpp>
#include <rewound/record/record.hpp>
#include <rewound/record/write_file.hpp>
#include <rewound/report/html.hpp>
#include <rewound/report/json.hpp>
#include <rewound/report/text.hpp>

#include "document_from_python.hpp"
#include "document_to_python.hpp"
#include "judging_from_python.hpp"
#include "registers.hpp"

namespace rewound::python {

verdict::policy policy_from_python(const py::object& policy) {
  if (policy.is_none()) return job::default_policy();
  if (py::isinstance<py::tuple>(policy)) {
    const auto both = policy.cast<py::tuple>();
    return job::with_spread(policy_from_python(both[0]), both[1].cast<job::machine_spread>());
  }
  if (py::isinstance<verdict::policy>(policy)) return policy.cast<verdict::policy>();
  if (py::isinstance<py::dict>(policy)) return job::policy_from(document_from(policy));
  return job::load_policy(policy.cast<std::string>());
}

job::sources sources_of(const job::reference* good, const record::visit_record* earlier) {
  job::sources compare_with;
  if (earlier != nullptr) compare_with.earlier = *earlier;
  if (good != nullptr) compare_with.good = *good;
  return compare_with;
}

namespace {

job::result judge(const record::visit_record& record, const job::reference* good, const record::visit_record* earlier,
                  const py::object& policy) {
  const auto rules = policy_from_python(policy);
  const auto compare_with = sources_of(good, earlier);
  const py::gil_scoped_release unlocked;
  return job::judge(record, compare_with, rules);
}

/// The report's page of what judge() says of the same arguments.
std::string judgement_page(const record::visit_record& record, const job::reference* good,
                           const record::visit_record* earlier, const py::object& policy) {
  const auto rules = policy_from_python(policy);
  const auto compare_with = sources_of(good, earlier);
  const py::gil_scoped_release unlocked;
  return report::html_report(job::judge(record, compare_with, rules), job::pictures_of(record, compare_with, rules));
}

using doubles = py::array_t<double, py::array::c_style | py::array::forcecast>;

using band = std::tuple<doubles, doubles, doubles>;

band expected_band(const job::reference& good, const std::string& speed, const doubles& voltage, double level,
                   double current_u, double voltage_u) {
  std::vector<units::voltage> voltages;
  for (py::ssize_t i = 0; i < voltage.size(); ++i) voltages.push_back(units::volts(voltage.data()[i]));
  const auto found = job::expect_band(good, speed, voltages, level, {current_u, voltage_u}, job::default_policy());
  doubles value(voltage.size()), low(voltage.size()), high(voltage.size());
  for (py::ssize_t i = 0; i < voltage.size(); ++i) {
    const auto& here = found[static_cast<std::size_t>(i)];
    value.mutable_data()[i] = here.value.value();
    low.mutable_data()[i] = here.low.value();
    high.mutable_data()[i] = here.high.value();
  }
  return {value, low, high};
}

std::vector<std::string> visit_names(const std::vector<job::reference_machine>& machines) {
  std::vector<std::string> names;
  for (const auto& machine : machines) names.push_back(machine.visit_name());
  return names;
}

/// Speeds whose current is known, in the order in which the machines' records name them.
std::vector<std::string> reference_speeds(const job::reference& good) {
  std::vector<std::string> names;
  for (const auto& machine : good.machines)
    for (const auto& block : machine.blocks)
      if (block.what == fit::channel::current && std::find(names.begin(), names.end(), block.speed) == names.end())
        names.push_back(block.speed);
  return names;
}

std::string text_of_reference(const job::reference& good) { return job::reference_text(good, job::default_policy()); }

void register_reference(py::module_& module) {
  py::class_<job::reference>(module, "Reference", R"(What good machines of one model draw.

Made by :func:`rewound.learn` or :func:`rewound.load_reference`; it does not change afterwards.)")
      .def_property_readonly(
          "model", [](const job::reference& self) { return self.model; }, "Name of the model (str).")
      .def_property_readonly(
          "machines", [](const job::reference& self) { return self.machines.size(); },
          "Number of good machines behind it (int).")
      .def_property_readonly(
          "visits", [](const job::reference& self) { return visit_names(self.machines); },
          "The good machines with the day of their visit (list of str).")
      .def_property_readonly(
          "set_aside", [](const job::reference& self) { return visit_names(self.set_aside); },
          "Machines that did not fit the others and were left out (list of str).")
      .def_property_readonly("speeds", &reference_speeds, "Speeds whose current it knows (list of str).")
      .def_property_readonly(
          "rated_voltage_V", [](const job::reference& self) { return self.rated_voltage_V; },
          "Rated voltage of the model [V] (float).")
      .def_property_readonly(
          "rated_frequency_Hz", [](const job::reference& self) { return self.rated_frequency_Hz; },
          "Rated frequency of the model [Hz] (float).")
      .def_property_readonly(
          "shaft",
          [](const job::reference& self) { return self.shaft == record::shaft_condition::bare ? "bare" : "loaded"; },
          "Whether the machines ran with their fan on, loaded, or bare (str).")
      .def("expected", &expected_band, py::arg("speed"), py::arg("voltage_V"), py::arg("level") = 0.95,
           py::arg("current_u_relative") = 0.0, py::arg("voltage_u_relative") = 0.0,
           R"(Current that one more good machine draws, with its band.

Parameters
----------
speed : str
    A speed that the reference knows.
voltage_V : array_like, shape (m,)
    Voltages [V], above 0.
level : float
    Coverage of the two-sided band, between 0 and 1.
current_u_relative, voltage_u_relative : float
    Relative standard uncertainties of the reading to be made [1], gain errors included unless they cancel.

Returns
-------
value, low, high : ndarray, shape (m,)
    Currents [A]: mean curve of the good machines, and the band for one new machine of the model: spread between
    machines, uncertainty of the mean, the reading. Spread is the default policy's prior with what the machines show;
    that few machines do not tell it well, and that it may be wider than believed, is in the band. Beside 1, 3 and 10
    others bands of 95 % held 97, 96 and 96 of 100 simulated fans of four models at the rated voltage, of the model
    that spreads most 96, 92 and 94; at 70 % of it 99 and more.

Raises
------
PreconditionError
    A voltage is not above 0, or the level is outside (0, 1).
InputError
    The reference does not know the speed.)")
      .def("to_text", &text_of_reference, R"(The reference as the text of its file.

Returns
-------
str
    TOML, format ``rewound-reference/1``.)")
      .def(py::pickle(
          [](const job::reference& self) { return py::str(text_of_reference(self)); },
          [](const py::str& text) { return job::reference_from(record::read_toml_text(std::string(text), "")); }))
      .def(
          "__eq__",
          [](const job::reference& self, const job::reference& other) {
            return text_of_reference(self) == text_of_reference(other);
          },
          py::is_operator())
      .def("__hash__", [](const job::reference& self) { return std::hash<std::string>()(text_of_reference(self)); })
      .def("__repr__", [](const job::reference& self) {
        return "<rewound.Reference " + self.model + ", " + std::to_string(self.machines.size()) + " machines>";
      });
  module.def("load_reference", &job::load_reference, py::arg("path"));
  module.def(
      "learn",
      [](const std::vector<record::visit_record>& records, const py::object& policy) {
        const auto rules = policy_from_python(policy);
        const py::gil_scoped_release unlocked;
        return job::learn(records, rules);
      },
      py::arg("records"), py::arg("policy").none(true));
  module.def(
      "write_file", [](const std::string& path, const std::string& text) { record::write_whole_file(path, text); },
      py::arg("path"), py::arg("text"));
}

void register_spread(py::module_& module) {
  py::class_<job::machine_spread>(module, "Spread",
                                  R"(How good machines of any model differ, as :func:`learn_spread` finds it.

It goes into :func:`learn` and :func:`judge` in place of the default policy's own belief.)")
      .def_readonly(
          "level_percent", &job::machine_spread::level_percent,
          "Standard deviation of the current at rated voltage between good machines of one model [%] (float).")
      .def_readonly("level_uncertainty_percent", &job::machine_spread::level_uncertainty_percent,
                    "Standard uncertainty of ``level_percent`` [%] (float).")
      .def_readonly("exponent", &job::machine_spread::exponent,
                    "Standard deviation of the current's exponent [1] (float).")
      .def_readonly("curvature", &job::machine_spread::curvature,
                    "Standard deviation of its change with the logarithm of the voltage [1] (float).")
      .def_readonly("references", &job::machine_spread::references, "References with two machines or more (int).")
      .def_readonly("machines", &job::machine_spread::machines, "Machines in these (int).")
      .def("to_text", &job::spread_text, R"(The spread as the text of its file.

Returns
-------
str
    TOML, format ``rewound-spread/1``.)")
      .def(py::pickle(
          [](const job::machine_spread& self) { return py::str(job::spread_text(self)); },
          [](const py::str& text) { return job::spread_from(record::read_toml_text(std::string(text), "")); }))
      .def("__repr__", [](const job::machine_spread& self) {
        return "<rewound.Spread of " + std::to_string(self.machines) + " machines, " + std::to_string(self.references) +
               " references>";
      });
  module.def(
      "learn_spread",
      [](const std::vector<job::reference>& references, const py::object& policy) {
        const auto rules = policy_from_python(policy);
        const py::gil_scoped_release unlocked;
        return job::learn_spread(references, rules);
      },
      py::arg("references"), py::arg("policy").none(true));
  module.def("load_spread", &job::load_spread, py::arg("path"));
}

}  // namespace

void register_job(py::module_& module) {
  using unlocked = py::call_guard<py::gil_scoped_release>;
  py::class_<job::result>(module, "Judgement", "A judgement as computed; rewound.Result shows it.")
      .def("to_json", &report::json_report, unlocked())
      .def(
          "to_text",
          [](const job::result& result, bool full) {
            return full ? report::full_text_report(result) : report::text_report(result, "full=True");
          },
          py::arg("full") = false, unlocked());
  register_reference(module);
  register_spread(module);
  py::class_<verdict::policy>(module, "Policy", "A policy as read.");
  module.def("read_policy", &policy_from_python, py::arg("policy").none(true));
  module.def("default_policy", [] { return document_to_python(job::default_policy_document()); });
  module.def("judgement_page", &judgement_page, py::arg("record"), py::arg("reference").none(true),
             py::arg("earlier").none(true), py::arg("policy").none(true));
  module.def("judge", &judge, py::arg("record"), py::arg("reference").none(true), py::arg("earlier").none(true),
             py::arg("policy").none(true));
}

}  // namespace rewound::python
