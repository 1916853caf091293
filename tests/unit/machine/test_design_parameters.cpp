// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <set>
#include <string_view>

#include <fan_machines.hpp>
#include <near.hpp>
#include <rewound/machine/design_parameters.hpp>
#include <rewound/machine/named_parameter.hpp>
#include <rewound/machine/tables.hpp>

namespace machine = rewound::machine;
namespace units = rewound::units;
using machine::design_parameter;
using rewound::testing::near_absolute;
using rewound::testing::near_relative;
using rewound::testing::tapped_fan;

namespace {

/// A fan with a choke, a resistor, a capacitor in the line and a speed winding of wire of its own.
machine::fan_design fan_of_all_controls() {
  auto d = tapped_fan();
  d.steps.resize(5);
  d.steps[2] = {
      .speed_turns = 0.5, .speed_resistance_ohm = 31.0, .speed_leakage_ohm = 14.0, .speed_leakage_in_common = 0.6};
  d.steps[3] = {.series_resistance_ohm = 12.0, .series_reactance_ohm = 60.0};
  d.steps[4] = {.series_capacitance_F = 2e-5, .autotransformer_ratio = 0.9};
  return d;
}

machine::fan_design moved(machine::fan_design design, design_parameter which, double log_change) {
  machine::move_parameter(design, which, log_change);
  return design;
}

machine::operating_point rated_point(const machine::fan_design& d, std::size_t speed) {
  return machine::running_point_when_turning(d, speed, units::volts(d.machine.rated_voltage_V));
}

}  // namespace

TEST_CASE("all ohms moved at once scale current, watts and torque by one over the factor and leave the slip") {
  const auto d = fan_of_all_controls();
  for (const double log_change : {-1.0, -0.1, 0.4, 2.0}) {
    const auto other = moved(d, design_parameter::impedance, log_change);
    const double less = std::exp(-log_change);
    for (std::size_t speed = 0; speed < d.steps.size(); ++speed) {
      CAPTURE(log_change);
      CAPTURE(speed);
      const auto before = rated_point(d, speed);
      const auto after = rated_point(other, speed);
      REQUIRE(before.state == machine::running_state::runs);
      CHECK(near_absolute(after.slip, before.slip, 1e-9));
      CHECK(near_relative(after.line_current.value(), less * before.line_current.value(), 1e-9));
      CHECK(near_relative(after.input.value(), less * before.input.value(), 1e-9));
      CHECK(near_relative(after.developed_torque.value(), less * before.developed_torque.value(), 1e-9));
      CHECK(near_relative(after.gap_voltage.value(), before.gap_voltage.value(), 1e-9));
    }
    CHECK(near_relative(
        machine::starting_torque(other.machine, other.steps[0], units::volts(230.0), units::hertz(50.0)).value(),
        less * machine::starting_torque(d.machine, d.steps[0], units::volts(230.0), units::hertz(50.0)).value(), 1e-9));
  }
}

TEST_CASE("a parameter moved and moved back leaves every speed as it was, and one that is moved is felt") {
  const auto d = fan_of_all_controls();
  for (std::size_t i = 0; i < machine::design_parameter_count; ++i) {
    const auto which = static_cast<design_parameter>(i);
    CAPTURE(machine::name(which));
    const auto other = moved(d, which, 0.2);
    double felt = 0.0;
    for (std::size_t speed = 0; speed < d.steps.size(); ++speed) {
      const auto before = rated_point(d, speed);
      const auto back = rated_point(moved(other, which, -0.2), speed);
      CHECK(near_relative(back.line_current.value(), before.line_current.value(), 1e-9));
      felt = std::max(felt, std::abs(rated_point(other, speed).line_current / before.line_current - 1.0));
    }
    CHECK(felt > 1e-4);
  }
}

TEST_CASE("each parameter names what it multiplies") {
  const auto d = tapped_fan();
  const double factor = std::exp(0.3);
  const auto at = [&](design_parameter which) { return moved(d, which, 0.3); };
  CHECK(near_relative(at(design_parameter::main_resistance).machine.main_resistance_ohm, factor * 34.14, 1e-14));
  CHECK(near_relative(at(design_parameter::leakage).machine.main_leakage_ohm, factor * 35.9, 1e-14));
  CHECK(near_relative(at(design_parameter::leakage).machine.rotor_leakage_ohm, factor * 29.32, 1e-14));
  CHECK(near_relative(at(design_parameter::leakage).machine.auxiliary->leakage_ohm, factor * 107.4, 1e-14));
  CHECK(near_relative(at(design_parameter::rotor_resistance).machine.rotor_resistance_ohm, factor * 60.0, 1e-14));
  CHECK(near_relative(at(design_parameter::magnetising).machine.magnetising_ohm, factor * 248.59, 1e-14));
  CHECK(near_relative(at(design_parameter::knee).machine.saturation.knee_V, factor * 200.0, 1e-14));
  CHECK(near_relative(at(design_parameter::saturation).machine.saturation.share, factor * 0.25, 1e-14));
  CHECK(near_relative(at(design_parameter::core_loss).machine.core_loss_W, factor * 12.0, 1e-14));
  CHECK(near_relative(at(design_parameter::turns_ratio).machine.auxiliary->turns_ratio, factor * 1.73, 1e-14));
  CHECK(near_relative(at(design_parameter::auxiliary_resistance).machine.auxiliary->resistance_ohm, factor * 149.78,
                      1e-14));
  CHECK(near_relative(*at(design_parameter::capacitance).machine.auxiliary->capacitance_F, factor * 4e-6, 1e-14));
  CHECK(near_relative(at(design_parameter::fan).load.square_Nm_s2, factor * d.load.square_Nm_s2, 1e-14));
  CHECK(near_relative(at(design_parameter::friction).load.friction_Nm, factor * d.load.friction_Nm, 1e-14));
  CHECK(near_relative(at(design_parameter::friction).load.breakaway_Nm, factor * d.load.breakaway_Nm, 1e-14));
}

TEST_CASE("a parameter that a design lacks leaves it as it is") {
  machine::fan_design d;
  d.machine = rewound::testing::main_only();
  d.load = rewound::testing::fan_at_slip(d.machine, 0.05);
  for (const auto which :
       {design_parameter::turns_ratio, design_parameter::auxiliary_resistance, design_parameter::capacitance}) {
    const auto other = moved(d, which, 0.5);
    CHECK_FALSE(other.machine.auxiliary.has_value());
    CHECK(rated_point(other, 0).line_current.value() == rated_point(d, 0).line_current.value());
  }
}

TEST_CASE("a moved speed step has more of whatever it puts in the line, and a capacitor less of its farads") {
  machine::speed_step step;
  step.series_resistance_ohm = 10.0;
  step.series_reactance_ohm = 40.0;
  step.series_capacitance_F = 6e-6;
  step.speed_turns = 0.5;
  step.autotransformer_ratio = 0.8;
  machine::move_step(step, std::log(1.5));
  CHECK(near_relative(step.series_resistance_ohm, 15.0, 1e-14));
  CHECK(near_relative(step.series_reactance_ohm, 60.0, 1e-14));
  CHECK(near_relative(*step.series_capacitance_F, 4e-6, 1e-14));
  CHECK(near_relative(step.speed_turns, 0.75, 1e-14));
  CHECK(near_relative(step.autotransformer_ratio, std::pow(0.8, 1.5), 1e-14));
  machine::speed_step fastest;
  machine::move_step(fastest, 2.0);
  CHECK(fastest.series_resistance_ohm == 0.0);
  CHECK(fastest.autotransformer_ratio == 1.0);
  CHECK_FALSE(fastest.series_capacitance_F.has_value());
}

TEST_CASE("every name of a spread between good machines is one that designs can be moved by") {
  std::set<std::string_view> known(machine::design_parameter_names.begin(), machine::design_parameter_names.end());
  CHECK(known.size() == machine::design_parameter_count);
  known.insert({"turns", "control"});
  for (const auto& row : machine::tables::healthy_spread) {
    CAPTURE(row.parameter);
    CHECK(known.contains(row.parameter));
    CHECK(row.spread > 0.0);
  }
}

TEST_CASE("warmth moves the resistance of all windings and nothing else") {
  const auto cold = tapped_fan();
  for (const double change : {0.04, -0.04}) {
    const auto warm = machine::moved_by_name(cold, "warmth", change);
    CHECK(near_relative(warm.machine.main_resistance_ohm, std::exp(change) * cold.machine.main_resistance_ohm, 1e-12));
    CHECK(near_relative(warm.machine.auxiliary->resistance_ohm,
                        std::exp(change) * cold.machine.auxiliary->resistance_ohm, 1e-12));
    CHECK(warm.machine.rotor_resistance_ohm == cold.machine.rotor_resistance_ohm);
    CHECK(warm.machine.auxiliary->turns_ratio == cold.machine.auxiliary->turns_ratio);
  }
}
