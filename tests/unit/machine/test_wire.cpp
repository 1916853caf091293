// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <cmath>

#include <near.hpp>
#include <rewound/base/error.hpp>
#include <rewound/machine/speed_control.hpp>
#include <rewound/machine/wire.hpp>

namespace machine = rewound::machine;
namespace record = rewound::record;
namespace units = rewound::units;
using machine::wire_standard;
using rewound::record::conductor_material;
using rewound::testing::near_relative;

// The published figures stand in reference/oracles/standards/wire.csv; here are the laws.
namespace {

machine::wound_wire coil(double mm) {
  return {units::millimetres(mm), 640.0, units::millimetres(130.0), 2, conductor_material::copper,
          wire_standard::metric};
}

double ohms(const machine::wound_wire& wire) { return units::in_ohms(machine::wound_resistance(wire)); }

}  // namespace

TEST_CASE(
    "every gauge from 10 to 44 leads to its diameter and back, and each is 92^(1/39) thinner than the one before") {
  for (int gauge = 10; gauge <= 44; ++gauge) {
    const auto d = machine::awg_diameter(gauge);
    CHECK(near_relative(machine::awg_of(d), gauge, 1e-12));
    CHECK(near_relative((d / machine::awg_diameter(gauge + 1)).value(), std::pow(92.0, 1.0 / 39.0), 1e-12));
  }
}

TEST_CASE("resistance goes with turns and length, against strands and the square of the diameter") {
  const double usual = ohms(coil(0.315));
  CHECK(near_relative(ohms(coil(0.63)), usual / 4.0, 1e-12));
  auto altered = coil(0.315);
  altered.turns *= 3.0;
  CHECK(near_relative(ohms(altered), 3.0 * usual, 1e-12));
  altered = coil(0.315);
  altered.parallel = 4;
  CHECK(near_relative(ohms(altered), usual / 2.0, 1e-12));
  altered = coil(0.315);
  altered.mean_turn = 1.1 * altered.mean_turn;
  CHECK(near_relative(ohms(altered), 1.1 * usual, 1e-12));
}

TEST_CASE("wire and turns are found again from the resistance they make") {
  for (const auto material : {conductor_material::copper, conductor_material::aluminium})
    for (const auto standard : {wire_standard::metric, wire_standard::awg}) {
      auto wire = coil(0.4);
      wire.material = material;
      wire.standard = standard;
      const auto made = machine::wound_resistance(wire);
      CHECK(near_relative(units::in_millimetres(machine::diameter_that_explains(made, wire)), 0.4, 1e-12));
      CHECK(near_relative(machine::turns_that_explain(made, wire), 640.0, 1e-12));
      // A quarter more ohms: a quarter more turns, or a wire thinner by the root of it.
      CHECK(near_relative(machine::turns_that_explain(1.25 * made, wire), 800.0, 1e-12));
      CHECK(near_relative(units::in_millimetres(machine::diameter_that_explains(1.25 * made, wire)),
                          0.4 / std::sqrt(1.25), 1e-12));
    }
}

TEST_CASE("two rectangular limits combine as their roots of the sum of squares over root three") {
  CHECK(near_relative(machine::wound_resistance_uncertainty(0.04, 0.03), 0.05 / std::sqrt(3.0), 1e-12));
}

TEST_CASE("a gauge or a resistance that cannot be is refused") {
  CHECK_THROWS_AS(machine::awg_diameter(57.0), rewound::base::error);
  CHECK_THROWS_AS(machine::awg_of(units::millimetres(0.0)), rewound::base::error);
  CHECK_THROWS_AS(machine::diameter_that_explains(units::ohms(0.0), coil(0.3)), rewound::base::error);
  CHECK_THROWS_AS(machine::turns_that_explain(units::ohms(-1.0), coil(0.3)), rewound::base::error);
}

TEST_CASE("resistance rises to the slower speeds where the current passes more and more of one path") {
  using enum record::speed_control;
  for (const auto control : {tapped_winding, series_reactor, series_resistor})
    CHECK(machine::resistance_rises(control));
  for (const auto control : {autotransformer, series_capacitor, pole_change, none, unknown})
    CHECK_FALSE(machine::resistance_rises(control));
}
