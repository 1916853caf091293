// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <near.hpp>
#include <rewound/base/error.hpp>
#include <rewound/checks/cord.hpp>
#include <rewound/checks/earth.hpp>
#include <rewound/checks/leakage.hpp>
#include <rewound/checks/withstand.hpp>

namespace checks = rewound::checks;
namespace units = rewound::units;
using rewound::testing::near_relative;

TEST_CASE("a direct voltage stands for an alternating one by its factor, an alternating one for itself") {
  CHECK(near_relative(checks::withstand({units::volts(2550.0), true, 1.7, {}}).alternating.value(), 1500.0, 1e-12));
  CHECK(checks::withstand({units::volts(1500.0), false, 1.7, {}}).alternating == units::volts(1500.0));
}

TEST_CASE("the current of a withstand test is told for each kilovolt applied") {
  const auto result = checks::withstand({units::volts(1500.0), false, 1.0, units::milliamperes(3.0)});
  CHECK(near_relative(units::in_milliamperes(*result.leakage_per_kV), 2.0, 1e-12));
}

TEST_CASE("leakage read below the full voltage is brought up in proportion, and never brought down") {
  const checks::leakage_input in{{{units::milliamperes(0.2), units::volts(230.0), {}},
                                  {units::milliamperes(0.2), units::volts(300.0), {}},
                                  {units::milliamperes(0.2), {}, {}}},
                                 units::volts(243.8),
                                 units::hertz(50.0)};
  const auto result = checks::leakage(in);
  CHECK(near_relative(result.factor[0], 1.06, 1e-12));
  CHECK(near_relative(result.factor[1], 1.0, 1e-12));
  CHECK(near_relative(result.factor[2], 1.0, 1e-12));
}

TEST_CASE("of the four ways of reading leakage those are missing that no reading states") {
  checks::leakage_input in{{{units::milliamperes(0.1), {}, {}}}, units::volts(243.8), units::hertz(50.0)};
  CHECK(checks::leakage(in).missing.size() == 4);
  in.readings.push_back({units::milliamperes(0.1), {}, {true, {}}});  // half stated is not stated
  CHECK(checks::leakage(in).missing.size() == 4);
  for (const bool reversed : {false, true}) in.readings.push_back({units::milliamperes(0.1), {}, {reversed, true}});
  const auto missing = checks::leakage(in).missing;
  REQUIRE(missing.size() == 2);
  for (const auto& way : missing) CHECK_FALSE(way.switched_on);
  for (const bool reversed : {false, true}) in.readings.push_back({units::milliamperes(0.1), {}, {reversed, false}});
  CHECK(checks::leakage(in).missing.empty());
}

TEST_CASE("an earth reading is split into the cord's core and the rest, which is never below zero") {
  const checks::earth_input in{units::ohms(0.2), units::metres(5.0), 0.026};
  CHECK(near_relative(units::in_ohms(*checks::earth(in).core), 0.13, 1e-12));
  CHECK(near_relative(units::in_ohms(*checks::earth(in).without), 0.07, 1e-9));
  CHECK(units::in_ohms(*checks::earth({units::ohms(0.1), units::metres(5.0), 0.026}).without) >= 0.0);
  CHECK_FALSE(checks::earth({units::ohms(0.1), {}, 0.026}).core.has_value());
  CHECK_FALSE(checks::earth({units::ohms(0.1), units::metres(5.0), {}}).core.has_value());
}

TEST_CASE("a cord's cross-section follows from its gauge, and its drop from both conductors") {
  // 18 AWG is 0.823 mm2 (ASTM B258).
  const auto by_gauge = checks::cord({{}, 18, {}, units::amperes(1.0), units::volts(230.0)});
  CHECK(near_relative(by_gauge.conductor_mm2, 0.823, 1e-3));
  CHECK_FALSE(by_gauge.drop_percent.has_value());
  // 10 m of 1 mm2, there and back, at 10 A of 100 V: 20 / 58 ohm, 3.448 %.
  const auto drop =
      checks::cord({1.0, {}, units::metres(10.0), units::amperes(10.0), units::volts(100.0)}).drop_percent;
  CHECK(near_relative(*drop, 100.0 * (20.0 / 58.0) * 10.0 / 100.0, 1e-9));
  CHECK_THROWS_AS(checks::cord({{}, {}, {}, units::amperes(1.0), units::volts(230.0)}), rewound::base::error);
}
