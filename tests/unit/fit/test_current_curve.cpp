// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <cmath>
#include <vector>

#include <near.hpp>
#include <rewound/base/error.hpp>
#include <rewound/fit/current_interval.hpp>
#include <rewound/fit/curve_choice.hpp>

namespace fit = rewound::fit;
using rewound::testing::near_absolute;
using rewound::testing::near_relative;

namespace {

fit::curve_reading reading(double x, double current) { return {x, current, 0.001, 0.005}; }

std::vector<fit::curve_reading> power_law(double level, double exponent) {
  std::vector<fit::curve_reading> out;
  for (const double x : {0.5, 0.65, 0.8, 0.9, 1.0, 1.05}) out.push_back(reading(x, level * std::pow(x, exponent)));
  return out;
}

}  // namespace

TEST_CASE("a power law without error is recovered exactly") {
  for (const double exponent : {-0.5, 0.3, 1.0, 1.7}) {
    CAPTURE(exponent);
    const auto curve = fit::fit_current_curve(power_law(0.42, exponent));
    REQUIRE(curve);
    CHECK(curve->family == fit::curve_family::power);
    CHECK(near_relative(std::exp(fit::log_current(*curve, 1.0).value), 0.42, 1e-9));
    CHECK(near_absolute(fit::exponent(*curve, 1.0)->value, exponent, 1e-9));
    CHECK(curve->scale == 1.0);
  }
}

TEST_CASE("a desk fan of 0.61 A at 110 V and 0.67 A at 120 V has the exponent 1.078") {
  // ln(0.67 / 0.61) / ln(120 / 110) = 1.0782
  const auto curve = fit::fit_current_curve({reading(1.0, 0.61), reading(120.0 / 110.0, 0.67)});
  REQUIRE(curve);
  const auto exponent = fit::exponent(*curve, 1.0);
  REQUIRE(exponent);
  CHECK(near_absolute(exponent->value, 1.0782, 5e-5));
  // Two readings 8.7 % apart with 0.5 % each leave it known to about 0.08.
  CHECK(near_absolute(exponent->standard_uncertainty,
                      std::hypot(0.005, 0.001 * 1.0782) * std::sqrt(2.0) / std::log(120.0 / 110.0), 0.002));
}

TEST_CASE("one voltage gives a proportional curve without an exponent") {
  const auto curve = fit::fit_current_curve({reading(1.0, 0.61), reading(1.0, 0.62)});
  REQUIRE(curve);
  CHECK(curve->family == fit::curve_family::proportional);
  CHECK_FALSE(fit::exponent(*curve, 1.0).has_value());
  CHECK(near_relative(std::exp(fit::log_current(*curve, 1.0).value), std::sqrt(0.61 * 0.62), 1e-9));
}

TEST_CASE("two voltages within their own uncertainty hold no exponent") {
  const auto curve = fit::fit_current_curve({reading(1.0, 0.61), reading(1.002, 0.64)});
  REQUIRE(curve);
  CHECK(curve->family == fit::curve_family::proportional);
}

TEST_CASE("extrapolation widens the interval on both sides of the readings") {
  for (const auto& readings : {power_law(0.42, 1.0), std::vector{reading(0.8, 0.33)}}) {
    const auto curve = fit::fit_current_curve(readings);
    REQUIRE(curve);
    const double inside = fit::log_current(*curve, 0.8).standard_uncertainty;
    CHECK(fit::log_current(*curve, 1.5).standard_uncertainty > 1.5 * inside);
    CHECK(fit::log_current(*curve, 0.3).standard_uncertainty > 1.5 * inside);
  }
}

TEST_CASE("readings that scatter beyond their meters widen the curve") {
  auto scattered = power_law(0.42, 1.0);
  for (std::size_t i = 0; i < scattered.size(); ++i) scattered[i].current *= i % 2 == 0 ? 1.05 : 0.95;
  const auto tidy = fit::fit_current_curve(power_law(0.42, 1.0));
  const auto wild = fit::fit_current_curve(scattered);
  REQUIRE(wild);
  CHECK(wild->scale > 2.0);
  CHECK(fit::log_current(*wild, 1.0).standard_uncertainty > 2.0 * fit::log_current(*tidy, 1.0).standard_uncertainty);
}

TEST_CASE("the interval of one new reading takes in that reading's own error") {
  const auto curve = fit::fit_current_curve(power_law(0.42, 1.0));
  REQUIRE(curve);
  const auto own = fit::current_interval(*curve, 1.0, 0.95);
  const auto fresh = fit::current_interval(*curve, 1.0, 0.95, 0.02);
  CHECK(own.low < 0.42);
  CHECK(own.high > 0.42);
  // 1.96 standard uncertainties of 2 % beside a curve known to a few parts in a thousand.
  CHECK(near_relative(std::log(fresh.high / 0.42), 1.96 * 0.02, 0.03));
  CHECK(fresh.low < own.low);
}

TEST_CASE("no readings give no curve, and impossible ones are refused") {
  CHECK_FALSE(fit::fit_current_curve(std::vector<fit::curve_reading>{}).has_value());
  CHECK_THROWS_AS(fit::fit_current_curve({reading(0.0, 0.4), reading(1.0, 0.5)}), rewound::base::error);
  CHECK_THROWS_AS(fit::fit_current_curve({reading(0.5, -0.4), reading(1.0, 0.5)}), rewound::base::error);
}
