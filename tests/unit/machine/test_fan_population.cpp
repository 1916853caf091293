// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <cmath>

#include <near.hpp>
#include <rewound/base/error.hpp>
#include <rewound/machine/fan_population.hpp>
#include <rewound/machine/running_point.hpp>

namespace machine = rewound::machine;
namespace units = rewound::units;
using rewound::record::running_circuit;
using rewound::record::speed_control;
using rewound::testing::near_absolute;
using rewound::testing::near_relative;

namespace {

machine::machine_kind kind_with(running_circuit circuit, int phases = 1) {
  machine::machine_kind kind;
  kind.circuit = circuit;
  kind.phases = phases;
  return kind;
}

machine::operating_point at_rated(const machine::fan_design& d, std::size_t speed = 0) {
  return machine::running_point_when_turning(d, speed, units::volts(d.machine.rated_voltage_V));
}

void check_all_run(const machine::machine_kind& kind, std::size_t least) {
  const auto designs = machine::fan_population(kind, {1.0});
  CHECK(designs.size() >= least);
  for (std::size_t i = 0; i < designs.size(); ++i) {
    CAPTURE(i);
    const auto at = at_rated(designs[i]);
    CHECK(at.state == machine::running_state::runs);
    CHECK(at.slip > 0.0);
    CHECK(at.slip < 0.6);
    CHECK(at.output.value() > 0.0);
    CHECK(at.efficiency < 1.0);
  }
}

}  // namespace

TEST_CASE("every design runs at its rated voltage with its fan on") {
  SUBCASE("permanent capacitor") { check_all_run(kind_with(running_circuit::permanent_capacitor), 100); }
  SUBCASE("start winding that is switched out") {
    check_all_run(kind_with(running_circuit::start_winding_switched), 100);
  }
  SUBCASE("shaded pole") { check_all_run(kind_with(running_circuit::shaded_pole), 100); }
  SUBCASE("three phases") { check_all_run(kind_with(running_circuit::three_phase, 3), 100); }
  SUBCASE("unknown circuit") { check_all_run(kind_with(running_circuit::unknown), 200); }
  SUBCASE("115 V and 60 Hz") {
    auto kind = kind_with(running_circuit::permanent_capacitor);
    kind.rated_voltage_V = 115.0;
    kind.rated_frequency_Hz = 60.0;
    check_all_run(kind, 100);
  }
}

TEST_CASE("designs have the circuit that was asked for") {
  for (const auto& d : machine::fan_population(kind_with(running_circuit::permanent_capacitor), {1.0})) {
    REQUIRE(d.machine.auxiliary.has_value());
    CHECK(d.machine.auxiliary->capacitance_F.has_value());
    CHECK_FALSE(d.machine.auxiliary->switched_out);
  }
  for (const auto& d : machine::fan_population(kind_with(running_circuit::start_winding_switched), {1.0})) {
    REQUIRE(d.machine.auxiliary.has_value());
    CHECK_FALSE(d.machine.auxiliary->capacitance_F.has_value());
    CHECK(d.machine.auxiliary->switched_out);
  }
  for (const auto& d : machine::fan_population(kind_with(running_circuit::shaded_pole), {1.0})) {
    CHECK_FALSE(d.machine.auxiliary.has_value());
    CHECK(d.machine.phases == machine::winding_phases::single);
  }
  for (const auto& d : machine::fan_population(kind_with(running_circuit::three_phase, 3), {1.0})) {
    CHECK_FALSE(d.machine.auxiliary.has_value());
    CHECK(d.machine.phases == machine::winding_phases::three_star);
  }
  const auto all = machine::fan_population(kind_with(running_circuit::unknown), {1.0}).size();
  CHECK(all == machine::fan_population(kind_with(running_circuit::permanent_capacitor), {1.0}).size() +
                   machine::fan_population(kind_with(running_circuit::shaded_pole), {1.0}).size());
}

TEST_CASE("another rating of the same watts: the slip stays, current goes with one over the voltage") {
  // Reactances are ohms at rated frequency, torque times speed is kept, so all circuits are the same but for their
  // scale.
  for (const auto& circuit : {running_circuit::permanent_capacitor, running_circuit::start_winding_switched}) {
    auto kind = kind_with(circuit);
    const auto table = machine::fan_population(kind, {1.0});
    kind.rated_voltage_V = 115.0;
    kind.rated_frequency_Hz = 60.0;
    const auto scaled = machine::fan_population(kind, {1.0});
    REQUIRE(scaled.size() == table.size());
    for (std::size_t i = 0; i < table.size(); ++i) {
      CAPTURE(i);
      const auto before = at_rated(table[i]);
      const auto after = at_rated(scaled[i]);
      CHECK(near_absolute(after.slip, before.slip, 1e-9));
      CHECK(near_relative(after.line_current.value(), 2.0 * before.line_current.value(), 1e-8));
      CHECK(near_relative(after.input.value(), before.input.value(), 1e-8));
      CHECK(near_relative(after.speed.value(), 1.2 * before.speed.value(), 1e-9));
    }
  }
}

TEST_CASE("poles that are known put all designs at the slip that they had, at another speed") {
  auto kind = kind_with(running_circuit::permanent_capacitor);
  const auto table = machine::fan_population(kind, {1.0});
  kind.poles = 6;
  const auto six = machine::fan_population(kind, {1.0});
  for (std::size_t i = 0; i < table.size(); ++i) {
    CAPTURE(i);
    CHECK(six[i].machine.poles == 6);
    CHECK(near_absolute(at_rated(six[i]).slip, at_rated(table[i]).slip, 1e-9));
    CHECK(near_relative(at_rated(six[i]).input.value(), at_rated(table[i]).input.value(), 1e-8));
  }
}

TEST_CASE("a bare shaft asks for a fiftieth of the fan and runs faster") {
  auto kind = kind_with(running_circuit::permanent_capacitor);
  const auto with_fan = machine::fan_population(kind, {1.0});
  kind.fan_on = false;
  const auto bare = machine::fan_population(kind, {1.0});
  REQUIRE(bare.size() == with_fan.size());
  for (std::size_t i = 0; i < bare.size(); ++i) {
    CHECK(near_relative(bare[i].load.square_Nm_s2, 0.02 * with_fan[i].load.square_Nm_s2, 1e-14));
    CHECK(bare[i].load.friction_Nm == with_fan[i].load.friction_Nm);
    CHECK(at_rated(bare[i]).slip < at_rated(with_fan[i]).slip);
  }
}

TEST_CASE("slower speeds get a first guess of their control that draws less, the fastest none") {
  for (const auto control :
       {speed_control::series_reactor, speed_control::tapped_winding, speed_control::series_resistor,
        speed_control::autotransformer, speed_control::series_capacitor}) {
    auto kind = kind_with(running_circuit::permanent_capacitor);
    kind.control = control;
    kind.speeds = 3;
    int less = 0;
    int all = 0;
    for (const auto& d : machine::fan_population(kind, {2.0, 1.5, 1.0})) {
      REQUIRE(d.steps.size() == 3);
      const auto& fastest = d.steps[0];
      CHECK(fastest.series_resistance_ohm + fastest.series_reactance_ohm + fastest.speed_turns == 0.0);
      CHECK(fastest.autotransformer_ratio == 1.0);
      CHECK_FALSE(fastest.series_capacitance_F.has_value());
      ++all;
      const double ratio = at_rated(d, 1).line_current / at_rated(d, 0).line_current;
      less += ratio < 1.0 && ratio > 1.0 / 3.0 ? 1 : 0;
    }
    CAPTURE(static_cast<int>(control));
    CHECK(less > 0.8 * all);
  }
}

TEST_CASE("no speed, or another number of ratios, is refused") {
  auto kind = kind_with(running_circuit::unknown);
  CHECK_THROWS_AS(machine::fan_population(kind, {}), rewound::base::error);
  CHECK_THROWS_AS(machine::fan_population(kind, {1.0, 0.8}), rewound::base::error);
  kind.speeds = 0;
  CHECK_THROWS_AS(machine::fan_population(kind, {}), rewound::base::error);
}
