// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <cmath>
#include <vector>

#include <near.hpp>
#include <rewound/base/error.hpp>
#include <rewound/checks/steps.hpp>

namespace checks = rewound::checks;
using checks::step_flag;
using rewound::testing::near_absolute;
using rewound::testing::near_relative;

namespace {

checks::steps_result steps_of(const std::vector<double>& amperes, double relative_u = 0.005) {
  checks::steps_input in{{}, 0.025, 0.95};
  for (const double current : amperes) in.speeds.push_back({"", std::log(current), relative_u});
  return checks::steps(in);
}

}  // namespace

TEST_CASE("currents that fall from the fastest speed to the slowest are in order") {
  const auto result = steps_of({0.61, 0.56, 0.49});
  CHECK(result.flag == step_flag::in_order);
  CHECK(result.best_order == std::vector<std::size_t>{0, 1, 2});
  CHECK(near_relative(result.steps.front().log_ratio, std::log(0.61 / 0.56), 1e-12));
  CHECK(near_relative(result.steps.front().log_uncertainty, 0.005 * std::sqrt(2.0), 1e-12));
}

TEST_CASE("two exchanged speeds are called swapped, with the order that would be right") {
  const auto result = steps_of({0.56, 0.61, 0.49});
  CHECK(result.flag == step_flag::swapped);
  CHECK(result.best_order == std::vector<std::size_t>{1, 0, 2});
  CHECK(steps_of({0.49, 0.61}).flag == step_flag::swapped);
}

TEST_CASE("the whole order turned round is called reversed") {
  const auto result = steps_of({0.49, 0.56, 0.61});
  CHECK(result.flag == step_flag::reversed);
  CHECK(result.best_order == std::vector<std::size_t>{2, 1, 0});
}

TEST_CASE("two speeds that draw the same are merged") {
  const auto result = steps_of({0.61, 0.56, 0.558}, 0.002);
  CHECK(result.flag == step_flag::merged);
  CHECK(result.certainty >= 0.95);
}

TEST_CASE("steps that the uncertainty covers are unclear and nothing is named") {
  const auto result = steps_of({0.61, 0.59, 0.57}, 0.05);
  CHECK(result.flag == step_flag::unclear);
  CHECK(result.certainty < 0.95);
}

TEST_CASE("a factor common to all speeds changes nothing") {
  for (const auto& amperes :
       {std::vector{0.61, 0.56, 0.49}, std::vector{0.56, 0.61, 0.49}, std::vector{0.61, 0.59, 0.57}}) {
    std::vector<double> scaled = amperes;
    for (double& current : scaled) current *= 7.3;
    const auto a = steps_of(amperes, 0.02);
    const auto b = steps_of(scaled, 0.02);
    CHECK(a.flag == b.flag);
    CHECK(a.best_order == b.best_order);
    CHECK(near_absolute(a.certainty, b.certainty, 1e-12));
  }
}

TEST_CASE("the three statements about a step share the whole probability") {
  for (const auto& step : steps_of({0.61, 0.60, 0.62}, 0.02).steps) {
    CHECK(near_absolute(step.in_order + step.no_step + step.inverted, 1.0, 1e-12));
    CHECK(step.no_step > 0.0);
  }
}

TEST_CASE("one speed has no steps") { CHECK_THROWS_AS(steps_of({0.61}), rewound::base::error); }
