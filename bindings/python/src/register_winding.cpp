// SPDX-License-Identifier: MIT
#include <cmath>
#include <string>
#include <utility>

#include <rewound/base/expect.hpp>
#include <rewound/job/policy_file.hpp>
#include <rewound/machine/wire.hpp>

#include "registers.hpp"

namespace rewound::python {

namespace {

void expect_positive(const char* name, double value) {
  base::expect(std::isfinite(value) && value > 0.0, name, value, "a finite number above 0");
}

record::conductor_material material_of(bool aluminium) {
  return aluminium ? record::conductor_material::aluminium : record::conductor_material::copper;
}

machine::wound_wire wire(double diameter_mm, double turns, double mean_turn_mm, double parallel, bool aluminium,
                         bool awg) {
  expect_positive("wire_diameter_mm", diameter_mm);
  expect_positive("turns", turns);
  expect_positive("mean_turn_mm", mean_turn_mm);
  base::expect(parallel >= 1.0 && parallel <= 1000.0 && std::floor(parallel) == parallel, "parallel", parallel,
               "a whole number from 1 to 1000");
  return {units::millimetres(diameter_mm),  turns,
          units::millimetres(mean_turn_mm), static_cast<int>(parallel),
          material_of(aluminium),           awg ? machine::wire_standard::awg : machine::wire_standard::metric};
}

double resistance(double diameter_mm, double turns, double mean_turn_mm, double parallel, bool aluminium, bool awg) {
  return units::in_ohms(machine::wound_resistance(wire(diameter_mm, turns, mean_turn_mm, parallel, aluminium, awg)));
}

double diameter(double ohm, double turns, double mean_turn_mm, double parallel, bool aluminium, bool awg) {
  expect_positive("resistance_ohm", ohm);
  return units::in_millimetres(
      machine::diameter_that_explains(units::ohms(ohm), wire(1.0, turns, mean_turn_mm, parallel, aluminium, awg)));
}

double turns(double ohm, double diameter_mm, double mean_turn_mm, double parallel, bool aluminium, bool awg) {
  expect_positive("resistance_ohm", ohm);
  return machine::turns_that_explain(units::ohms(ohm), wire(diameter_mm, 1.0, mean_turn_mm, parallel, aluminium, awg));
}

double referred(double ohm, double from_C, double to_C, bool aluminium) {
  for (const double t : {from_C, to_C})
    base::expect(std::isfinite(t) && t > -200.0 && t < 1000.0, "temperature_C", t,
                 "a temperature from -200 to 1000 degC");
  return units::in_ohms(
      machine::at_temperature(units::ohms(ohm), units::celsius(from_C), units::celsius(to_C), material_of(aluminium)));
}

}  // namespace

void register_winding(py::module_& module) {
  module.def("wound_resistance", py::vectorize(resistance));
  module.def("diameter_that_explains", py::vectorize(diameter));
  module.def("turns_that_explain", py::vectorize(turns));
  module.def("resistance_at", py::vectorize(referred));
  module.def("awg_diameter_mm",
             py::vectorize([](double gauge) { return units::in_millimetres(machine::awg_diameter(gauge)); }));
  module.def("awg_of", py::vectorize([](double mm) {
               expect_positive("wire_diameter_mm", mm);
               return machine::awg_of(units::millimetres(mm));
             }));
  module.def("wire_limits", [] {
    const auto policy = job::default_policy();
    return std::pair{policy.practice.wire_resistance_percent.value / 100.0,
                     policy.practice.mean_turn_percent.value / 100.0};
  });
  module.def("wire_uncertainty", &machine::wound_resistance_uncertainty);
}

}  // namespace rewound::python
