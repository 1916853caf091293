// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <cmath>
#include <limits>
#include <vector>

#include <near.hpp>
#include <rewound/base/error.hpp>
#include <rewound/checks/design_match.hpp>
#include <rewound/machine/running_point.hpp>

namespace checks = rewound::checks;
namespace machine = rewound::machine;
namespace record = rewound::record;
namespace units = rewound::units;
using rewound::testing::near_absolute;

namespace {

using known_ohm = rewound::measurement::uncertain<double>;

std::vector<machine::fan_design> designs() {
  return machine::fan_population(
      {record::running_circuit::permanent_capacitor, record::speed_control::series_reactor, 1, 230.0, 50.0, 4, true, 3},
      {1.0, 1.0, 1.0});
}

checks::known_winding winding_of(const machine::fan_design& of, double reactance_u) {
  return {known_ohm{std::log(of.machine.main_resistance_ohm), 0.0},
          known_ohm{std::log(of.machine.magnetising_ohm), reactance_u}};
}

double log_current_of(const machine::fan_design& of) {
  const auto at = machine::running_point_when_turning(of, 0, units::volts(of.machine.rated_voltage_V));
  return std::log(units::in_amperes(at.line_current));
}

}  // namespace

TEST_CASE("designs left out draw what the others say by their winding and core, nineteen times of twenty") {
  const auto all = designs();
  REQUIRE(all.size() > 20);
  int held = 0;
  for (std::size_t i = 0; i < all.size(); ++i) {
    auto others = all;
    others.erase(others.begin() + static_cast<std::ptrdiff_t>(i));
    const auto told = checks::current_by_winding(others, winding_of(all[i], 0.0));
    held += std::abs(log_current_of(all[i]) - told.log_current) < 1.96 * told.log_uncertainty ? 1 : 0;
  }
  CAPTURE(all.size());
  CHECK(held >= 0.9 * static_cast<double>(all.size()));
}

TEST_CASE("a core beside the ohms narrows the current, the more the better it is known") {
  const auto all = designs();
  auto known = winding_of(all.front(), 0.0);
  const double exact = checks::current_by_winding(all, known).log_uncertainty;
  known.log_magnetising_ohm->standard_uncertainty = 0.35;
  const double roughly = checks::current_by_winding(all, known).log_uncertainty;
  known.log_magnetising_ohm.reset();
  const double ohms_alone = checks::current_by_winding(all, known).log_uncertainty;
  CHECK(exact < roughly);
  CHECK(roughly < ohms_alone);
}

TEST_CASE("twice the ohms, half the current, whichever of the two is known") {
  const auto all = designs();
  auto known = winding_of(all.front(), 0.2);
  const double before = checks::current_by_winding(all, known).log_current;
  known.log_main_ohm->value += std::log(2.0);
  known.log_magnetising_ohm->value += std::log(2.0);
  CHECK(near_absolute(checks::current_by_winding(all, known).log_current, before - std::log(2.0), 1e-12));
  known.log_main_ohm.reset();
  const double by_core = checks::current_by_winding(all, known).log_current;
  known.log_magnetising_ohm->value -= std::log(2.0);
  CHECK(near_absolute(checks::current_by_winding(all, known).log_current, by_core + std::log(2.0), 1e-12));
}

TEST_CASE("without a winding, with no ohms or without designs nothing is told") {
  const auto all = designs();
  CHECK_THROWS_AS(checks::current_by_winding(all, {}), rewound::base::error);
  CHECK_THROWS_AS(
      checks::current_by_winding(all, {known_ohm{-std::numeric_limits<double>::infinity(), 0.0}, std::nullopt}),
      rewound::base::error);
  CHECK_THROWS_AS(checks::current_by_winding({}, winding_of(all.front(), 0.1)), rewound::base::error);
}
