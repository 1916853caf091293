// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <cmath>
#include <fan_machines.hpp>
#include <near.hpp>
#include <numbers>
#include <random>
#include <rewound/units/rotation.hpp>
#include <vector>

namespace machine = rewound::machine;
namespace units = rewound::units;
using rewound::testing::capacitor_machine;
using rewound::testing::main_only;
using rewound::testing::near_absolute;
using rewound::testing::near_relative;
using rewound::testing::rated_frequency;
using rewound::testing::rated_voltage;
using rewound::testing::switched_machine;
using rewound::testing::tapped_fan;

namespace {

machine::operating_point rated_at(const machine::induction_machine& m, double slip,
                                  const machine::speed_step& step = {}, double voltage_share = 1.0) {
  return machine::point_at_slip(m, step, {}, voltage_share * rated_voltage(m), rated_frequency(m), slip);
}

/// A machine, a lead and a load with everything in them that can be, drawn at random.
struct anything {
  machine::induction_machine motor;
  machine::speed_step step;
  machine::shaft_load load;
};

anything random_machine(std::mt19937& random) {
  const auto between = [&](double low, double high) { return std::uniform_real_distribution(low, high)(random); };
  anything out{capacitor_machine(), {}, {}};
  auto& m = out.motor;
  for (double* ohms : {&m.main_resistance_ohm, &m.main_leakage_ohm, &m.rotor_resistance_ohm, &m.rotor_leakage_ohm,
                       &m.magnetising_ohm, &m.core_loss_W})
    *ohms *= between(0.6, 1.6);
  m.saturation = {between(0.0, 0.6), between(140.0, 230.0), between(0.0, 1.0) < 0.5 ? 6.0 : between(3.0, 9.0), 2.0};
  m.shorted.share = between(0.0, 1.0) < 0.5 ? 0.0 : between(0.0, 0.2);
  m.auxiliary->shorted.share = between(0.0, 1.0) < 0.5 ? 0.0 : between(0.0, 0.2);
  if (between(0.0, 1.0) < 0.3) m.auxiliary.reset();
  auto& step = out.step;
  step.series_resistance_ohm = between(0.0, 60.0);
  step.series_reactance_ohm = between(0.0, 60.0);
  step.speed_turns = between(0.0, 1.0) < 0.5 ? 0.0 : between(0.1, 0.8);
  step.shorted.share = between(0.0, 0.3);
  step.autotransformer_ratio = between(0.5, 1.0);
  out.load = machine::fan_load(between(0.05, 0.6), 90.0, 0.05);
  out.load.linear_Nm_s = between(0.0, 2e-4);
  out.load.constant_Nm = between(0.0, 0.02);
  return out;
}

}  // namespace

TEST_CASE("energy: what goes in is what comes out and all losses, on every kind of lead, running or at rest") {
  std::mt19937 random(20261126);
  int running = 0, standing = 0;
  for (int i = 0; i < 500; ++i) {
    const auto each = random_machine(random);
    const auto volts = units::volts(std::uniform_real_distribution(40.0, 250.0)(random));
    const auto p = machine::running_point_when_turning(each.motor, each.step, each.load, volts, units::hertz(50.0));
    CAPTURE(i);
    const double input = units::in_watts(p.input);
    CHECK(near_absolute(units::in_watts(p.output + p.losses.total()), input, 1e-9 * input));
    CHECK(near_relative(input, units::in_volts(volts) * units::in_amperes(p.line_current) * p.power_factor, 1e-12));
    for (const auto loss : {&p.losses.stator_copper, &p.losses.control, &p.losses.rotor_copper, &p.losses.core,
                            &p.losses.friction_and_windage})
      CHECK(units::in_watts(*loss) >= 0.0);
    if (p.state != machine::running_state::runs) {
      ++standing;
      continue;
    }
    ++running;
    // At the crossing the developed torque is what the load asks for.
    const double w = p.speed.value();
    const double asked =
        each.load.friction_Nm + each.load.constant_Nm + w * (each.load.linear_Nm_s + w * each.load.square_Nm_s2);
    CHECK(near_relative(units::in_newton_metres(p.developed_torque), asked, 1e-9));
    CHECK(near_relative(units::in_newton_metres(p.shaft_torque), each.load.constant_Nm + w * w * each.load.square_Nm_s2,
                        1e-9));
  }
  CHECK(running > 200);
  CHECK(standing > 20);
}

TEST_CASE("a gap voltage that agrees: the magnetising reactance is the one its own gap voltage leaves") {
  // Measured from outside: an unsaturated machine with the reactance of that gap voltage draws the same current.
  const auto saturated = capacitor_machine();
  for (const double slip : {0.005, 0.05, 0.3, 1.0}) {
    const auto p = rated_at(saturated, slip);
    auto fixed = saturated;
    const double relative = units::in_volts(p.gap_voltage) / saturated.saturation.knee_V;
    fixed.magnetising_ohm /= 1.0 + saturated.saturation.share * std::pow(relative, saturated.saturation.sharpness);
    fixed.saturation.share = 0.0;
    const auto q = rated_at(fixed, slip);
    CHECK(near_relative(units::in_amperes(q.line_current), units::in_amperes(p.line_current), 1e-9));
    CHECK(
        near_relative(units::in_newton_metres(q.developed_torque), units::in_newton_metres(p.developed_torque), 1e-9));
  }
}

TEST_CASE("without saturation, at a slip that is held, current goes with voltage and torque with its square") {
  auto m = capacitor_machine();
  m.saturation.share = 0.0;
  for (const double slip : {0.01, 0.12, 1.0}) {
    const auto whole = rated_at(m, slip), half = rated_at(m, slip, {}, 0.5);
    CHECK(near_relative(units::in_amperes(whole.line_current), 2.0 * units::in_amperes(half.line_current), 1e-13));
    CHECK(near_relative(units::in_watts(whole.input), 4.0 * units::in_watts(half.input), 1e-13));
    CHECK(near_relative(units::in_newton_metres(whole.developed_torque),
                        4.0 * units::in_newton_metres(half.developed_torque), 1e-12));
  }
}

TEST_CASE("slip to 0: the forward field sees the magnetising branch alone, the backward one a rotor of half slip 2") {
  auto m = main_only();
  const auto p = rated_at(m, 0.0);
  // Closed form: Z = R1 + jX1 + jXm/2 + (jXm/2 beside R2/4 + jX2/2).
  const double x = 0.5 * m.magnetising_ohm, r = 0.25 * m.rotor_resistance_ohm, l = 0.5 * m.rotor_leakage_ohm;
  const double square = r * r + (x + l) * (x + l);
  const double backward_r = x * x * r / square, backward_x = x * (r * r + l * (x + l)) / square;
  const double impedance = std::hypot(m.main_resistance_ohm + backward_r, m.main_leakage_ohm + x + backward_x);
  CHECK(near_relative(units::in_amperes(p.line_current), m.rated_voltage_V / impedance, 1e-12));
  CHECK(units::in_newton_metres(p.developed_torque) < 0.0);
}

TEST_CASE("at rest the main winding alone has no torque, and its impedance is that of a transformer") {
  const auto m = main_only();
  const auto p = rated_at(m, 1.0);
  CHECK(std::abs(units::in_newton_metres(p.developed_torque)) < 1e-12);
  CHECK(units::in_watts(p.output) == 0.0);
  const double r2 = m.rotor_resistance_ohm, x2 = m.rotor_leakage_ohm, xm = m.magnetising_ohm;
  const double square = r2 * r2 + (xm + x2) * (xm + x2);
  const double z = std::hypot(m.main_resistance_ohm + xm * xm * r2 / square,
                              m.main_leakage_ohm + xm * (r2 * r2 + x2 * (xm + x2)) / square);
  CHECK(near_relative(units::in_amperes(p.line_current), m.rated_voltage_V / z, 1e-12));
}

TEST_CASE("a machine turning against its field at slip 2 - s has the torque of slip s the other way round") {
  const auto m = main_only();
  for (const double slip : {0.05, 0.4})
    CHECK(near_relative(units::in_newton_metres(rated_at(m, 2.0 - slip).developed_torque),
                        -units::in_newton_metres(rated_at(m, slip).developed_torque), 1e-12));
}

TEST_CASE("three phases are the forward field alone: the per-phase circuit, three times") {
  machine::induction_machine m = main_only();
  m.rated_voltage_V = 400.0;
  const double slip = 0.06;
  const double r = m.rotor_resistance_ohm / slip, x = m.rotor_leakage_ohm, xm = m.magnetising_ohm;
  const double square = r * r + (xm + x) * (xm + x);
  const double gap_r = xm * xm * r / square, gap_x = xm * (r * r + x * (xm + x)) / square;
  const double z = std::hypot(m.main_resistance_ohm + gap_r, m.main_leakage_ohm + gap_x);
  const double synchronous = 4.0 * std::numbers::pi * m.rated_frequency_Hz / m.poles;
  for (const bool star : {true, false}) {
    m.phases = star ? machine::winding_phases::three_star : machine::winding_phases::three_delta;
    const double phase_V = star ? 400.0 / std::numbers::sqrt3 : 400.0;
    const double phase_A = phase_V / z;
    const auto p = rated_at(m, slip);
    CHECK(near_relative(units::in_amperes(p.line_current), star ? phase_A : std::numbers::sqrt3 * phase_A, 1e-12));
    CHECK(near_relative(units::in_newton_metres(p.developed_torque), 3.0 * phase_A * phase_A * gap_r / synchronous,
                        1e-12));
    CHECK(near_relative(units::in_watts(p.input), 3.0 * phase_A * phase_A * (m.main_resistance_ohm + gap_r), 1e-12));
    CHECK(near_relative(units::in_watts(p.input),
                        std::numbers::sqrt3 * 400.0 * units::in_amperes(p.line_current) * p.power_factor, 1e-12));
  }
}

TEST_CASE(
    "core loss: at rated gap voltage the machine has its rated core loss, and balance holds in three phases too") {
  machine::induction_machine m = main_only();
  m.core_loss_W = 30.0;
  for (const auto phases :
       {machine::winding_phases::single, machine::winding_phases::three_star, machine::winding_phases::three_delta}) {
    m.phases = phases;
    const auto p = rated_at(m, 0.002);
    // |Ef| + |Eb| squared is above |Ef|^2 + |Eb|^2, and at little slip nearly all is forward.
    const double by_flux = 30.0 * p.flux_ratio * p.flux_ratio;
    CHECK(near_relative(units::in_watts(p.losses.core), by_flux,
                        phases == machine::winding_phases::single ? 0.1 : 1e-12));
    CHECK(near_relative(units::in_watts(p.output + p.losses.total()), units::in_watts(p.input), 1e-9));
  }
}

TEST_CASE("frequency: at twice the volts and twice the hertz a machine without resistances turns twice as fast") {
  auto m = capacitor_machine();
  m.core_loss_W = 0.0;
  m.auxiliary->capacitance_F.reset();
  const auto slow = machine::point_at_slip(m, {}, {}, units::volts(115.0), units::hertz(25.0), 0.2);
  // Resistances double with the reactances: the same circuit at twice the voltage.
  for (double* ohms : {&m.main_resistance_ohm, &m.rotor_resistance_ohm, &m.auxiliary->resistance_ohm}) *ohms *= 2.0;
  const auto fast = machine::point_at_slip(m, {}, {}, units::volts(230.0), units::hertz(50.0), 0.2);
  CHECK(near_relative(units::in_amperes(fast.line_current), units::in_amperes(slow.line_current), 1e-9));
  CHECK(near_relative(units::in_rpm(fast.speed), 2.0 * units::in_rpm(slow.speed), 1e-12));
  CHECK(near_relative(units::in_newton_metres(fast.developed_torque), units::in_newton_metres(slow.developed_torque),
                      1e-9));
  CHECK(near_relative(fast.flux_ratio, slow.flux_ratio, 1e-9));
}
