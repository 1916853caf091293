// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <cmath>
#include <fan_machines.hpp>
#include <near.hpp>
#include <rewound/base/error.hpp>
#include <rewound/machine/fan_population.hpp>
#include <rewound/machine/named_parameter.hpp>
#include <rewound/units/rotation.hpp>
#include <string>

namespace machine = rewound::machine;
namespace units = rewound::units;
using machine::running_state;
using rewound::testing::capacitor_machine;
using rewound::testing::fan_at_slip;
using rewound::testing::main_only;
using rewound::testing::near_relative;
using rewound::testing::rated_frequency;
using rewound::testing::rated_voltage;
using rewound::testing::switched_machine;
using rewound::testing::tapped_fan;

namespace {

double amperes(const machine::operating_point& p) { return units::in_amperes(p.line_current); }

std::string refusal(const machine::induction_machine& m, const machine::speed_step& step,
                    const machine::shaft_load& load, double volts, double hertz) {
  try {
    machine::running_point(m, step, load, units::volts(volts), units::hertz(hertz));
  } catch (const rewound::base::error& e) {
    return e.where().field;
  }
  return {};
}

}  // namespace

TEST_CASE("a fan runs at the slip it was made for") {
  const auto m = capacitor_machine();
  const auto load = fan_at_slip(m, 0.12);
  for (const auto& p : {machine::running_point(m, {}, load, rated_voltage(m), rated_frequency(m)),
                        machine::running_point_when_turning(m, {}, load, rated_voltage(m), rated_frequency(m))}) {
    CHECK(p.state == running_state::runs);
    CHECK(near_relative(p.slip, 0.12, 1e-10));
    CHECK(near_relative(units::in_rpm(p.speed), 880.0, 1e-10));
  }
}

TEST_CASE("it starts above its lowest starting voltage and not below, and turns on below it") {
  auto m = capacitor_machine();
  auto load = fan_at_slip(m, 0.12);
  load.breakaway_Nm = 0.2;
  const auto lowest = machine::lowest_starting_voltage(m, {}, load, rated_frequency(m));
  REQUIRE(lowest.has_value());
  CHECK(
      near_relative(units::in_newton_metres(machine::starting_torque(m, {}, *lowest, rated_frequency(m))), 0.2, 1e-9));
  const auto below = machine::running_point(m, {}, load, 0.999 * *lowest, rated_frequency(m));
  CHECK(below.state == running_state::does_not_start);
  CHECK(below.slip == 1.0);
  const auto locked = machine::point_at_slip(m, {}, {}, 0.999 * *lowest, rated_frequency(m), 1.0);
  CHECK(near_relative(amperes(below), amperes(locked), 1e-12));
  CHECK(machine::running_point(m, {}, load, 1.001 * *lowest, rated_frequency(m)).state == running_state::runs);
  CHECK(machine::running_point_when_turning(m, {}, load, 0.999 * *lowest, rated_frequency(m)).state ==
        running_state::runs);
}

TEST_CASE("starting voltage without saturation goes with the root of what resists") {
  auto m = capacitor_machine();
  m.saturation.share = 0.0;
  machine::shaft_load load;
  load.breakaway_Nm = 0.3;
  const double torque = units::in_newton_metres(machine::starting_torque(m, {}, rated_voltage(m), rated_frequency(m)));
  const auto lowest = machine::lowest_starting_voltage(m, {}, load, rated_frequency(m));
  REQUIRE(lowest.has_value());
  CHECK(near_relative(units::in_volts(*lowest), m.rated_voltage_V * std::sqrt(0.3 / torque), 1e-9));
}

TEST_CASE("a machine without a start winding does not start at any voltage, but runs when turned") {
  const auto m = main_only();
  const auto load = fan_at_slip(m, 0.05);
  CHECK(machine::running_point(m, {}, load, rated_voltage(m), rated_frequency(m)).state ==
        running_state::does_not_start);
  CHECK_FALSE(machine::lowest_starting_voltage(m, {}, load, rated_frequency(m)).has_value());
  CHECK(machine::running_point_when_turning(m, {}, load, rated_voltage(m), rated_frequency(m)).state ==
        running_state::runs);
}

TEST_CASE("a switched start winding starts the machine and is gone when it runs") {
  const auto m = switched_machine();
  const auto load = fan_at_slip(main_only(), 0.05);
  const auto p = machine::running_point(m, {}, load, rated_voltage(m), rated_frequency(m));
  CHECK(p.state == running_state::runs);
  CHECK(near_relative(p.slip, 0.05, 1e-9));
  CHECK_FALSE(p.auxiliary_current.has_value());
  const auto locked = machine::point_at_slip(m, {}, load, rated_voltage(m), rated_frequency(m), 1.0, true);
  CHECK(locked.auxiliary_current.has_value());
  // McPherson 6.2 with a capacitor of 133 uF in place of 20 ohm (132.6 uF): about 18.56 A.
  CHECK(near_relative(amperes(locked), 18.563, 2e-3));
}

TEST_CASE("a start winding whose machine cannot reach the switch's speed stays connected") {
  const auto m = switched_machine();
  auto load = fan_at_slip(m, 0.05);
  load.square_Nm_s2 *= 6.0;
  const auto p = machine::running_point(m, {}, load, rated_voltage(m), rated_frequency(m));
  CHECK(p.state == running_state::runs);
  CHECK(p.slip > 0.25);
  CHECK(p.auxiliary_current.has_value());
}

TEST_CASE("lowered from rated voltage a machine at last stalls, and draws then what it draws at rest") {
  const auto m = main_only();
  auto load = fan_at_slip(m, 0.05);
  load.friction_Nm *= 6.0;
  bool ran = false, stalled = false;
  for (double share = 1.0; share > 0.1; share -= 0.02) {
    const auto p = machine::running_point_when_turning(m, {}, load, share * rated_voltage(m), rated_frequency(m));
    if (p.state == running_state::runs) {
      ran = true;
      CHECK_FALSE(stalled);
      continue;
    }
    stalled = true;
    const auto locked = machine::point_at_slip(m, {}, {}, share * rated_voltage(m), rated_frequency(m), 1.0);
    CHECK(amperes(p) == amperes(locked));
    CHECK(units::in_watts(p.input) == units::in_watts(locked.input));
  }
  CHECK(ran);
  CHECK(stalled);
}

TEST_CASE("a fan whose rotor has little resistance has two stable speeds in a band of voltages") {
  auto m = capacitor_machine();
  m.rotor_resistance_ohm = 6.0;
  const auto load = fan_at_slip(m, 0.05);
  int twice = 0;
  for (double share = 1.1; share > 0.3; share -= 0.01) {
    const auto started = machine::running_point(m, {}, load, share * rated_voltage(m), rated_frequency(m));
    const auto turning = machine::running_point_when_turning(m, {}, load, share * rated_voltage(m), rated_frequency(m));
    CHECK(started.slip >= turning.slip * (1.0 - 1e-9));
    if (started.slip > 1.5 * turning.slip) ++twice;
  }
  CHECK(twice >= 3);
}

TEST_CASE("with a resistive rotor and a fan the rotor's current is largest at a slip of one third") {
  // Closed form: I ~ (1 - s) sqrt(s), at most 2 / (3 sqrt 3) = 0.3849 (textbook result).
  machine::induction_machine m;
  m.phases = machine::winding_phases::three_star;
  m.main_resistance_ohm = 1e-6;
  m.rotor_resistance_ohm = 40.0;
  m.magnetising_ohm = 1e9;
  const auto near = machine::point_at_slip(m, {}, {}, rated_voltage(m), rated_frequency(m), 0.05);
  const auto load = machine::fan_load(units::in_newton_metres(near.developed_torque), near.speed.value(), 0.0);
  double most = 0.0, slip = 0.0;
  for (double share = 1.0; share > 0.1; share -= 1e-4) {
    const auto p = machine::running_point_when_turning(m, {}, load, share * rated_voltage(m), rated_frequency(m));
    if (amperes(p) > most) most = amperes(p), slip = p.slip;
  }
  CHECK(near_relative(slip, 1.0 / 3.0, 2e-3));
  CHECK(near_relative(most / amperes(near), 2.0 / (3.0 * std::sqrt(3.0)) / (0.95 * std::sqrt(0.05)), 1e-6));
}

TEST_CASE("dead: a broken lead or no voltage") {
  auto d = tapped_fan();
  d.steps[1].open = true;
  for (const auto& p :
       {machine::running_point(d, 1, units::volts(230.0)), machine::running_point(d, 0, units::volts(0.0)),
        machine::running_point_when_turning(d, 1, units::volts(230.0))}) {
    CHECK(p.state == running_state::dead);
    CHECK(amperes(p) == 0.0);
  }
  CHECK_FALSE(machine::lowest_starting_voltage(d.machine, d.steps[1], d.load, units::hertz(50.0)).has_value());
}

TEST_CASE("an autotransformer is a lower voltage for the machine and a lower current for the line") {
  const auto m = capacitor_machine();
  const auto load = fan_at_slip(m, 0.12);
  machine::speed_step step;
  step.autotransformer_ratio = 0.7;
  const auto p = machine::running_point(m, step, load, rated_voltage(m), rated_frequency(m));
  const auto direct = machine::running_point(m, {}, load, 0.7 * rated_voltage(m), rated_frequency(m));
  CHECK(near_relative(amperes(p), 0.7 * amperes(direct), 1e-12));
  CHECK(near_relative(units::in_watts(p.input), units::in_watts(direct.input), 1e-12));
}

TEST_CASE("what cannot be is refused by name") {
  const auto m = capacitor_machine();
  CHECK(refusal(m, {}, {}, -1.0, 50.0) == "supply voltage");
  CHECK(refusal(m, {}, {}, 230.0, 0.0) == "supply frequency");
  CHECK(refusal(m, {}, {}, std::nan(""), 50.0) == "supply voltage");
  auto odd = m;
  odd.poles = 3;
  CHECK(refusal(odd, {}, {}, 230.0, 50.0) == "poles");
  auto bare = m;
  bare.rotor_resistance_ohm = 0.0;
  CHECK(refusal(bare, {}, {}, 230.0, 50.0) == "rotor_resistance_ohm");
  auto all = m;
  all.shorted.share = 1.0;
  CHECK(refusal(all, {}, {}, 230.0, 50.0) == "shorted share");
  auto balanced = m;
  balanced.phases = machine::winding_phases::three_star;
  CHECK(refusal(balanced, {}, {}, 230.0, 50.0) == "phases");
  machine::shaft_load load;
  load.square_Nm_s2 = -1e-5;
  CHECK(refusal(m, {}, load, 230.0, 50.0) == "square_Nm_s2");
  machine::speed_step step;
  step.autotransformer_ratio = 0.0;
  CHECK(refusal(m, step, {}, 230.0, 50.0) == "autotransformer_ratio");
}

TEST_CASE("a point sought from a neighbour's is the one found from synchronism, at every voltage of every population") {
  std::size_t compared = 0, elsewhere = 0;
  for (const auto circuit : {rewound::record::running_circuit::permanent_capacitor,
                             rewound::record::running_circuit::start_winding_switched})
    for (const auto control :
         {rewound::record::speed_control::series_reactor, rewound::record::speed_control::tapped_winding,
          rewound::record::speed_control::series_resistor, rewound::record::speed_control::autotransformer}) {
      machine::machine_kind kind;
      kind.circuit = circuit, kind.control = control, kind.speeds = 3;
      for (const auto& design : machine::fan_population(kind, {1.0, 0.8, 0.6})) {
        const auto weak = machine::moved_by_name(design, "rotor_resistance", 0.2);
        for (std::size_t speed = 0; speed < 3; ++speed)
          for (const double volts : {260.0, 230.0, 200.0, 160.0, 115.0}) {
            const auto near = machine::settled(machine::running_point_when_turning(design, speed, units::volts(volts)));
            const auto sought = machine::running_point_near(weak, speed, units::volts(volts), near);
            const auto found = machine::running_point_when_turning(weak, speed, units::volts(volts));
            ++compared;
            // Where two speeds are stable, either is one.
            if (std::abs(sought.slip / found.slip - 1.0) > 0.01) {
              ++elsewhere;
              continue;
            }
            CHECK(sought.state == found.state);
            CHECK(near_relative(amperes(sought), amperes(found), 1e-9));
            CHECK(near_relative(sought.slip, found.slip, 1e-8));
          }
      }
    }
  CHECK(compared > 1000);
  CHECK(elsewhere * 50 < compared);
}

TEST_CASE("points down a row of voltages, each sought from the one before, are those found at each from synchronism") {
  std::vector<units::voltage> supplies;
  for (double volts = 276.0; volts > 20.0; volts *= 0.85) supplies.push_back(units::volts(volts));
  std::size_t compared = 0, elsewhere = 0;
  for (const auto circuit : {rewound::record::running_circuit::permanent_capacitor,
                             rewound::record::running_circuit::start_winding_switched})
    for (const auto control :
         {rewound::record::speed_control::series_reactor, rewound::record::speed_control::tapped_winding}) {
      machine::machine_kind kind;
      kind.circuit = circuit, kind.control = control, kind.speeds = 3;
      for (const auto& design : machine::fan_population(kind, {1.0, 0.8, 0.6}))
        for (std::size_t speed = 0; speed < 3; ++speed) {
          const auto points = machine::running_points(design, speed, supplies);
          for (std::size_t i = 0; i < points.size(); ++i) {
            const auto found = machine::running_point_when_turning(design, speed, supplies[i]);
            ++compared;
            if (points[i].state != found.state || !near_relative(amperes(points[i]), amperes(found), 1e-8)) ++elsewhere;
          }
        }
    }
  CHECK(compared > 10000);
  CHECK(elsewhere == 0);
}

TEST_CASE("points at one voltage after another are those at each, and end where it stalls") {
  const auto fan = tapped_fan();
  const std::vector<units::voltage> supplies{units::volts(250.0), units::volts(230.0), units::volts(180.0),
                                             units::volts(20.0), units::volts(200.0)};
  const auto points = machine::running_points(fan, 2, supplies);
  REQUIRE(points.size() == 4);
  CHECK(points.back().state == running_state::stalled);
  for (std::size_t i = 0; i < points.size(); ++i)
    CHECK(near_relative(amperes(points[i]), amperes(machine::running_point_when_turning(fan, 2, supplies[i])), 1e-9));
  CHECK(machine::running_points(fan, 2, {}).empty());
  CHECK_THROWS_AS(machine::running_points(fan, 2, supplies, {{}, {}}), rewound::base::error);
  CHECK_THROWS_AS(machine::running_points(fan, 3, supplies), rewound::base::error);
}
