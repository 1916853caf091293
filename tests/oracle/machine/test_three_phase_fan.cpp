// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <cmath>
#include <complex>
#include <numbers>
#include <rewound/units/rotation.hpp>
#include <worked_machine.hpp>

namespace machine = rewound::machine;
namespace units = rewound::units;
using inputs = rewound::testing::row_inputs;

namespace {

struct fan_drive {
  machine::induction_machine motor;
  machine::shaft_load load;

  machine::operating_point at(double volts) const {
    return machine::running_point_when_turning(motor, {}, load, units::volts(volts),
                                               units::hertz(motor.rated_frequency_Hz));
  }
};

fan_drive drive(const inputs& in) {
  fan_drive out{rewound::testing::worked_machine(in), {}};
  out.motor.magnetising_ohm = 1e12;
  out.motor.phases = machine::winding_phases::three_delta;
  const double slip = 1.0 - in("rated_rpm") * in("poles") / (120.0 * in("f"));
  const auto rated = machine::point_at_slip(out.motor, {}, {}, units::volts(in("V")), units::hertz(in("f")), slip);
  out.load = machine::fan_load(units::in_newton_metres(rated.developed_torque), rated.speed.value(), 0.0);
  return out;
}

/// In delta the line's current is that of a phase times the root of three.
double line_current_A(const inputs& in) {
  const auto p = drive(in).at(in("supply"));
  const auto magnetising = std::numbers::sqrt3 * in("supply") / std::complex<double>(0.0, in("Xm"));
  return std::abs(std::polar(units::in_amperes(p.line_current), p.line_phase_rad) + magnetising);
}

double torque_at_rpm(const inputs& in) {
  const double speed = units::rpm(in("rpm")).value();
  return drive(in).load.square_Nm_s2 * speed * speed;
}

/// Bisection over the supply's voltage.
double voltage_for_rpm(const inputs& in) {
  const auto fan = drive(in);
  double low = 50.0, high = 400.0;
  while (high - low > 1e-6) {
    const double middle = 0.5 * (low + high);
    (units::in_rpm(fan.at(middle).speed) < in("rpm") ? low : high) = middle;
  }
  return low;
}

}  // namespace

TEST_CASE("a fan on three phases: every worked figure is met to its printed digits") {
  rewound::testing::check_table(
      "machines/three_phase_fan.csv",
      {{"torque_at_rpm_Nm", torque_at_rpm},
       {"voltage_for_rpm_V", voltage_for_rpm},
       {"current_A", line_current_A},
       {"torque_Nm", [](const inputs& in) { return units::in_newton_metres(drive(in).at(in("supply")).shaft_torque); }},
       {"slip", [](const inputs& in) { return drive(in).at(in("supply")).slip; }}});
}
