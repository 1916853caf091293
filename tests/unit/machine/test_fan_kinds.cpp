// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <near.hpp>
#include <rewound/base/error.hpp>
#include <rewound/machine/fan_population.hpp>
#include <rewound/machine/running_point.hpp>

namespace machine = rewound::machine;
namespace units = rewound::units;
using machine::running_circuit;
using rewound::testing::near_relative;

TEST_CASE("every kind of circuit finds designs, for one phase and for three") {
  for (const auto circuit : {running_circuit::start_winding_switched, running_circuit::permanent_capacitor,
                             running_circuit::shaded_pole, running_circuit::three_phase, running_circuit::unknown})
    for (const int phases : {1, 3}) {
      machine::machine_kind kind;
      kind.circuit = circuit;
      kind.phases = phases;
      const auto designs = machine::fan_population(kind, {1.0});
      REQUIRE_FALSE(designs.empty());
      for (const auto& design : designs) CHECK(design.machine.auxiliary.has_value() <= (phases == 1));
    }
}

TEST_CASE("at half the rated voltage a design draws twice the amps for the same watts") {
  machine::machine_kind kind;
  kind.circuit = running_circuit::permanent_capacitor;
  const auto whole = machine::fan_population(kind, {1.0});
  kind.rated_voltage_V = 115.0;
  const auto half = machine::fan_population(kind, {1.0});
  REQUIRE(whole.size() == half.size());
  for (std::size_t i = 0; i < whole.size(); ++i) {
    const auto high = machine::running_point_when_turning(whole[i], 0, units::volts(230.0));
    const auto low = machine::running_point_when_turning(half[i], 0, units::volts(115.0));
    CHECK(near_relative(units::in_amperes(low.line_current), 2.0 * units::in_amperes(high.line_current), 1e-6));
    CHECK(near_relative(units::in_watts(low.input), units::in_watts(high.input), 1e-6));
  }
}

TEST_CASE("a population without speeds, or without a ratio for each, is refused") {
  machine::machine_kind kind;
  CHECK_THROWS_AS(machine::fan_population(kind, {}), rewound::base::error);
  kind.speeds = 0;
  CHECK_THROWS_AS(machine::fan_population(kind, {}), rewound::base::error);
}
