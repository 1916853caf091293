// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <cmath>
#include <random>
#include <vector>

#include <near.hpp>
#include <rewound/base/error.hpp>
#include <rewound/checks/trend.hpp>

namespace checks = rewound::checks;
using checks::trend_forecast;
using rewound::testing::near_relative;

namespace {

checks::trend_input yearly(const std::vector<double>& values, double u = 0.1) {
  checks::trend_input out;
  out.minimum = 5.0;
  for (std::size_t i = 0; i < values.size(); ++i) out.points.push_back({2020.0 + static_cast<double>(i), values[i], u});
  return out;
}

}  // namespace

TEST_CASE("halving every year from 80 meets 5 one year after 10") {
  const auto trend = checks::trend(yearly({80.0, 40.0, 20.0, 10.0}));
  CHECK(near_relative(trend.slope_per_year->value, -std::log(2.0), 1e-12));
  CHECK(trend.forecast == trend_forecast::crosses);
  CHECK(near_relative(trend.crosses_in_years.value(), 1.0, 1e-9));
  CHECK(trend.earliest_years.value() < 1.0);
  CHECK(trend.latest_years.value() > 1.0);
  CHECK(trend.steps.empty());
}

TEST_CASE("the slope's uncertainty is that of the textbook's line") {
  // u / sqrt(sum (t - mean)^2) of equal weights; here 0.1 / sqrt(5).
  const auto trend = checks::trend(yearly({80.0, 40.0, 20.0, 10.0}));
  CHECK(near_relative(trend.slope_per_year->standard_uncertainty, 0.1 / std::sqrt(5.0), 1e-9));
}

TEST_CASE("what cannot fall so far is not within the horizon, and what may is not told") {
  CHECK(checks::trend(yearly({300.0, 301.0, 299.0, 300.0}, 0.05)).forecast == trend_forecast::not_within);
  CHECK(checks::trend(yearly({100.0, 300.0})).forecast == trend_forecast::not_within);
  const auto doubtful = checks::trend(yearly({12.0, 11.5}, 0.2));
  CHECK(doubtful.forecast == trend_forecast::cannot_tell);
  CHECK(doubtful.earliest_years.has_value());
  CHECK_FALSE(doubtful.latest_years.has_value());
}

TEST_CASE("one visit tells nothing but whether it is below, and a line below now says so") {
  CHECK(checks::trend(yearly({100.0})).forecast == trend_forecast::one_point);
  CHECK(checks::trend(yearly({4.0})).forecast == trend_forecast::below_now);
  CHECK(checks::trend(yearly({40.0, 12.0, 4.0})).forecast == trend_forecast::below_now);
}

TEST_CASE("a step is named, and kept out of the slope") {
  const auto trend = checks::trend(yearly({600.0, 610.0, 590.0, 150.0, 151.0, 149.0}));
  REQUIRE(trend.steps.size() == 1);
  CHECK(trend.steps.front().index == 3);
  CHECK(near_relative(trend.steps.front().factor, 0.25, 0.05));
  CHECK(trend.steps.front().range.low < 0.25);
  CHECK(trend.steps.front().range.high > 0.25);
  CHECK(std::abs(trend.slope_per_year->value) < 0.05);
  CHECK(checks::trend(yearly({600.0, 420.0, 300.0, 210.0, 147.0})).steps.empty());
}

TEST_CASE("an uncertainty that all visits share leaves the slope alone and widens the forecast") {
  auto in = yearly({80.0, 40.0, 20.0, 10.0});
  const auto alone = checks::trend(in);
  in.common_uncertainty = 0.3;
  const auto shared = checks::trend(in);
  CHECK(shared.slope_per_year->standard_uncertainty == alone.slope_per_year->standard_uncertainty);
  CHECK(shared.earliest_years.value() < alone.earliest_years.value());
}

TEST_CASE("the interval of the crossing holds the truth about 95 times of 100") {
  // 1000 trends: a true 95 % lies within 0.93 to 0.967 of them in 99 cases of 100. Points that scatter by chance widen
  // the interval and never narrow it, and a chance step (one in twenty) does the same: the upper end is 0.985.
  std::mt19937 random(43);
  std::normal_distribution<double> noise;
  constexpr int trends = 1000;
  int held = 0;
  for (int i = 0; i < trends; ++i) {
    auto in = yearly({0, 0, 0, 0, 0, 0, 0, 0});
    in.horizon_years = 40.0;
    for (std::size_t k = 0; k < in.points.size(); ++k)
      in.points[k].value = 500.0 * std::exp(-0.4 * static_cast<double>(k) + 0.1 * noise(random));
    const double truth = std::log(500.0 / 5.0) / 0.4 - 7.0;
    const auto trend = checks::trend(in);
    held += trend.earliest_years.value_or(1e9) <= truth && truth <= trend.latest_years.value_or(1e9) ? 1 : 0;
  }
  MESSAGE("held " << held << " of " << trends);
  CHECK(held >= 0.93 * trends);
  CHECK(held <= 0.985 * trends);
}

TEST_CASE("dates that do not rise and values that cannot be are refused") {
  auto in = yearly({80.0, 40.0});
  in.points[1].years = in.points[0].years;
  CHECK_THROWS_AS(checks::trend(in), rewound::base::error);
  CHECK_THROWS_AS(checks::trend(yearly({80.0, 0.0})), rewound::base::error);
  CHECK_THROWS_AS(checks::trend(yearly({})), rewound::base::error);
}
