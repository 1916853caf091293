// SPDX-License-Identifier: MIT
#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include <rewound/base/error.hpp>
#include <rewound/job/parameters.hpp>
#include <rewound/job/simulate.hpp>
#include <rewound/job/whatif.hpp>
#include <rewound/report/parameters.hpp>
#include <rewound/report/whatif.hpp>

#include "registers.hpp"

namespace rewound::python {

namespace {

using faults_asked = std::vector<std::pair<std::string, std::optional<double>>>;

record::visit_record simulated(const std::string& machine, const faults_asked& faults, std::uint64_t seed,
                               std::optional<std::uint64_t> unit, std::optional<std::uint64_t> bench,
                               std::optional<std::string> id, const std::string& state, const std::string& shaft,
                               const std::vector<std::string>& read) {
  job::simulate_options options;
  options.seed = seed;
  options.unit = unit;
  options.bench = bench;
  options.id = std::move(id);
  for (const auto& [name, severity] : faults) {
    options.faults.push_back(job::simulated_fault_from(name));
    options.faults.back().severity = severity;
  }
  options.state = job::visit_state_named(state);
  options.shaft = job::shaft_condition_named(shaft);
  for (const auto& what : read) job::read_too(options, what);
  const py::gil_scoped_release unlocked;
  return job::simulate(job::simulated_machine_named(machine), options);
}

job::whatif_result asked(const record::visit_record& record, double turns_factor, double wire_area_factor,
                         std::optional<double> supply_voltage, std::optional<double> supply_frequency,
                         std::optional<double> for_current) {
  const py::gil_scoped_release unlocked;
  if (for_current) return job::whatif_for_current(record, *for_current, supply_voltage, supply_frequency);
  return job::whatif(record, {turns_factor, wire_area_factor, supply_voltage, supply_frequency});
}

}  // namespace

void register_simulation(py::module_& module) {
  module.def("simulate", &simulated, py::arg("machine"), py::arg("faults"), py::arg("seed"), py::arg("unit").none(true),
             py::arg("bench").none(true), py::arg("id").none(true), py::arg("state"), py::arg("shaft"),
             py::arg("read"));
  module.def(
      "machine_parameters",
      [](const record::visit_record& record) {
        const py::gil_scoped_release unlocked;
        return report::parameters_json(job::machine_parameters(record));
      },
      py::arg("record"));
  py::class_<job::whatif_result>(module, "WhatIfAnswer", "An answer as computed; rewound.WhatIf shows it.")
      .def("to_json", &report::whatif_json, py::call_guard<py::gil_scoped_release>())
      .def("to_text", &report::whatif_text, py::call_guard<py::gil_scoped_release>());
  module.def("whatif", &asked, py::arg("record"), py::arg("turns_factor"), py::arg("wire_area_factor"),
             py::arg("supply_voltage").none(true), py::arg("supply_frequency").none(true),
             py::arg("for_current").none(true));
}

}  // namespace rewound::python
