// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <vector>

#include <near.hpp>
#include <rewound/base/error.hpp>
#include <rewound/checks/design_population.hpp>
#include <rewound/checks/insulation.hpp>
#include <rewound/checks/leakage.hpp>
#include <rewound/checks/no_load.hpp>
#include <rewound/checks/power_factor.hpp>
#include <rewound/checks/start_positions.hpp>
#include <rewound/checks/starting.hpp>

// What is just allowed and what is just not, of checks that take counts, phases and ways of reading.
namespace borders {

namespace checks = rewound::checks;
namespace machine = rewound::machine;
namespace units = rewound::units;
using rewound::base::error;
using rewound::testing::near_relative;

TEST_CASE("one attempt is a count, none is not, and more successes than attempts are refused") {
  CHECK(near_relative(checks::fisher_exact({1, 1}, {1, 0}), 1.0, 1e-9));
  CHECK_THROWS_AS(checks::fisher_exact({0, 0}, {1, 0}), error);
  CHECK_THROWS_AS(checks::fisher_exact({1, 2}, {1, 0}), error);
  CHECK_THROWS_AS(checks::start_positions({{1, 3}, {1, 0}}), error);
}

TEST_CASE("of several positions that start less often the one is told that chance explains least") {
  for (const bool turned : {false, true}) {
    std::vector<checks::counted_starts> positions{{10, 10}, {10, 5}, {10, 2}};
    if (turned) std::swap(positions[1], positions[2]);
    const auto found = checks::start_positions(positions);
    REQUIRE(found.has_value());
    CHECK(found->worst == (turned ? 1 : 2));
    CHECK(found->others.successes == 15);
    CHECK(found->comparisons == 3);
  }
}

TEST_CASE("a confidence goes from a half to 0.9999") {
  for (const double confidence : {0.5, 0.9999}) CHECK_NOTHROW(checks::starting({5, 5, confidence}));
  for (const double confidence : {0.4999, 0.99995}) CHECK_THROWS_AS(checks::starting({5, 5, confidence}), error);
}

TEST_CASE("a machine has one phase or three") {
  const auto of = [](int phases) {
    return checks::power_factor({units::volts(230.0), units::amperes(0.5), units::watts(80.0), phases, {}, {}, {}});
  };
  for (const int phases : {1, 3}) CHECK_NOTHROW(of(phases));
  for (const int phases : {0, 2, 4}) CHECK_THROWS_AS(of(phases), error);
}

TEST_CASE("leakage that was read one way leaves the three others missing") {
  for (const bool on : {false, true})
    for (const bool reversed : {false, true}) {
      checks::leakage_input in{};
      in.full = units::volts(243.8);
      in.frequency = units::hertz(50.0);
      in.readings.emplace_back();
      in.readings.back().current = units::milliamperes(0.1);
      in.readings.back().condition = {reversed, on};
      const auto found = checks::leakage(in);
      CHECK(found.missing.size() == 3);
      for (const auto& each : found.missing) CHECK((each.reversed != reversed || each.switched_on != on));
      in.readings.back().condition = {reversed, {}};
      CHECK(checks::leakage(in).missing.size() == 4);
    }
}

TEST_CASE("a reading taken late errs by the slope between its neighbours, at the ends by that to the next") {
  checks::insulation_input in{};
  in.time_limit = units::seconds(3.0);
  // R = 10 t^n Mohm with n of 1, then 2: at 10, 20, 40 s.
  for (const auto& [seconds, megohm] : {std::pair{10.0, 10.0}, {20.0, 20.0}, {40.0, 80.0}})
    in.readings.push_back({units::seconds(seconds), units::megohms(megohm)});
  const double slopes[] = {1.0, 1.5, 2.0}, times[] = {10.0, 20.0, 40.0};
  for (std::size_t i = 0; i < 3; ++i)
    CHECK(near_relative(checks::independent_uncertainty(in, i), slopes[i] * 3.0 / times[i] / std::sqrt(3.0), 1e-9));
}

TEST_CASE("unless said otherwise core loss is told within 5 % of the rating, on the straight part up to 80 %") {
  const checks::no_load_input plain{};
  CHECK(plain.near_rating == 0.05);
  CHECK(plain.straight_to == 0.8);
}

TEST_CASE("how good machines and designs spread is what their tables say") {
  const auto healthy = checks::healthy_spreads();
  const auto& built = machine::tables::healthy_spread;
  const auto& read = machine::tables::reading_spread;
  REQUIRE(healthy.size() == built.size() + read.size());
  for (std::size_t i = 0; i < healthy.size(); ++i) {
    const bool passing = i >= built.size();
    CHECK(healthy[i].passing == passing);
    CHECK(healthy[i].visits == (passing ? read[i - built.size()].visits : built[i].visits));
    CHECK(healthy[i].spread == (passing ? read[i - built.size()].spread : built[i].spread));
    CHECK(healthy[i].centre == 0.0);
  }
  const auto population = checks::population_spreads();
  REQUIRE(population.size() == machine::tables::population_spread.size());
  for (std::size_t i = 0; i < population.size(); ++i) {
    CHECK(population[i].centre == machine::tables::population_spread[i].centre);
    CHECK(population[i].visits == 0.0);
  }
}

}  // namespace borders
