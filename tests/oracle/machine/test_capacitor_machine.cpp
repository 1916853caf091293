// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <numbers>
#include <worked_machine.hpp>

namespace units = rewound::units;
using inputs = rewound::testing::row_inputs;
using rewound::testing::output_after_losses_W;
using rewound::testing::shaft_torque_after_losses_Nm;
using rewound::testing::worked_point;

namespace {

/// Core loss that the example adds to what the circuit takes.
double input_W(const inputs& in) {
  return units::in_watts(worked_point(in).input) + (in.has("core") ? in("core") : 0.0);
}

double unbalanced_W(const inputs& in) {
  const auto p = worked_point(in);
  return units::in_watts(p.input - p.output - p.losses.total());
}

}  // namespace

TEST_CASE("two windings and a capacitor: every worked figure is met to its printed digits") {
  rewound::testing::check_table(
      "machines/capacitor.csv",
      {{"current_A", [](const inputs& in) { return units::in_amperes(worked_point(in).line_current); }},
       {"current_deg", [](const inputs& in) { return worked_point(in).line_phase_rad * 180.0 / std::numbers::pi; }},
       {"main_A", [](const inputs& in) { return units::in_amperes(worked_point(in).main_current); }},
       {"auxiliary_A", [](const inputs& in) { return units::in_amperes(*worked_point(in).auxiliary_current); }},
       {"capacitor_V", [](const inputs& in) { return units::in_volts(*worked_point(in).capacitor_voltage); }},
       {"input_W", input_W},
       {"output_W", output_after_losses_W},
       {"efficiency_percent", [](const inputs& in) { return 100.0 * output_after_losses_W(in) / input_W(in); }},
       {"torque_Nm", [](const inputs& in) { return units::in_newton_metres(worked_point(in).developed_torque); }},
       {"shaft_torque_Nm", shaft_torque_after_losses_Nm},
       {"unbalanced_W", unbalanced_W}});
}
