// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <cmath>
#include <complex>
#include <numbers>
#include <rewound/units/rotation.hpp>
#include <worked_machine.hpp>

namespace units = rewound::units;
using inputs = rewound::testing::row_inputs;
using rewound::testing::output_after_losses_W;
using rewound::testing::shaft_torque_after_losses_Nm;
using rewound::testing::worked_point;

namespace {

/// What the machine takes at a slip, less the winding's own impedance: both fields in series.
std::complex<double> fields_ohm(const inputs& in) {
  const auto p = worked_point(in);
  const auto current = std::polar(units::in_amperes(p.line_current), p.line_phase_rad);
  return in("V") / current - std::complex<double>(in("R1"), in("X1"));
}

/// The backward field by its closed form, to take it off the sum that the machine shows.
std::complex<double> backward_ohm(const inputs& in) {
  const std::complex<double> iron(0.0, 0.5 * in("Xm"));
  const std::complex<double> rotor(0.5 * in("R2") / (2.0 - in("s")), 0.5 * in("X2"));
  return iron * rotor / (iron + rotor);
}

/// Air-gap power crossing into the rotor by both fields together, forward less backward.
double air_gap_W(const inputs& in) {
  const double synchronous = 4.0 * std::numbers::pi * in("f") / in("poles");
  return units::in_newton_metres(worked_point(in).developed_torque) * synchronous;
}

double rotor_side_backward_ohm(const inputs& in) {
  // Rotor copper s Pf + (2 - s) Pb and air-gap power Pf - Pb give the backward field's resistance Pb / I^2.
  const auto p = worked_point(in);
  const double current = units::in_amperes(p.line_current);
  return (units::in_watts(p.losses.rotor_copper) - p.slip * air_gap_W(in)) / (2.0 * current * current);
}

std::complex<double> current(const inputs& in) {
  const auto p = worked_point(in);
  return std::polar(units::in_amperes(p.line_current), p.line_phase_rad);
}

double rpm(const inputs& in) {
  rewound::machine::induction_machine any;
  any.main_resistance_ohm = any.rotor_resistance_ohm = any.magnetising_ohm = 1.0;
  any.poles = static_cast<int>(in("poles"));
  return units::in_rpm(
      rewound::machine::point_at_slip(any, {}, {}, units::volts(1.0), units::hertz(in("f")), in("s")).speed);
}

}  // namespace

TEST_CASE("main winding alone: every worked figure is met to its printed digits") {
  rewound::testing::check_table(
      "machines/single_phase.csv",
      {{"current_A", [](const inputs& in) { return units::in_amperes(worked_point(in).line_current); }},
       {"current_real_A", [](const inputs& in) { return current(in).real(); }},
       {"current_imaginary_A", [](const inputs& in) { return current(in).imag(); }},
       {"power_factor", [](const inputs& in) { return worked_point(in).power_factor; }},
       {"input_W", [](const inputs& in) { return units::in_watts(worked_point(in).input); }},
       {"air_gap_W", air_gap_W},
       {"converted_W", [](const inputs& in) { return units::in_watts(worked_point(in).output); }},
       {"torque_Nm", [](const inputs& in) { return units::in_newton_metres(worked_point(in).developed_torque); }},
       {"output_W", output_after_losses_W},
       {"shaft_torque_Nm", shaft_torque_after_losses_Nm},
       {"efficiency",
        [](const inputs& in) { return output_after_losses_W(in) / units::in_watts(worked_point(in).input); }},
       {"rpm", rpm},
       {"zf_real_ohm", [](const inputs& in) { return (fields_ohm(in) - backward_ohm(in)).real(); }},
       {"zf_imaginary_ohm", [](const inputs& in) { return (fields_ohm(in) - backward_ohm(in)).imag(); }},
       {"zf_full_real_ohm", [](const inputs& in) { return 2.0 * (fields_ohm(in) - backward_ohm(in)).real(); }},
       {"zf_full_imaginary_ohm", [](const inputs& in) { return 2.0 * (fields_ohm(in) - backward_ohm(in)).imag(); }},
       {"zb_real_ohm", rotor_side_backward_ohm}});
}
