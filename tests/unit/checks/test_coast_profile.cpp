// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <vector>

#include <near.hpp>
#include <rewound/base/error.hpp>
#include <rewound/checks/coast_down.hpp>

// Profile intervals of friction terms, against sums of squares minimised by another way: golden sections within each
// other, in rad/s and seconds.
namespace coast_profile {

namespace checks = rewound::checks;
namespace units = rewound::units;
using rewound::testing::near_relative;

constexpr double digit = 0.1;

checks::coast_down_input coasting(const checks::friction_terms& terms, int count, double noise, double step_s = 2.0) {
  checks::coast_down_input out{{}, units::angular_velocity::from_value(digit), units::seconds(0.0), {}};
  for (int i = 0; i < count; ++i) {
    const double t = step_s * i;
    const double off = noise * std::sin(2.0 + 5.0 * i);
    out.readings.push_back(
        {units::seconds(t), units::angular_velocity::from_value(checks::coasting_speed(100.0, terms, t) + off)});
  }
  return out;
}

template <class Function>
double lowest(const Function& of, double low, double high, int steps = 42) {
  const double ratio = (std::sqrt(5.0) - 1.0) / 2.0;
  double left = high - ratio * (high - low), right = low + ratio * (high - low);
  double at_left = of(left), at_right = of(right);
  for (int i = 0; i < steps; ++i) {
    if (at_left < at_right) {
      high = right, right = left, at_right = at_left;
      left = high - ratio * (high - low), at_left = of(left);
    } else {
      low = left, left = right, at_left = at_right;
      right = low + ratio * (high - low), at_right = of(right);
    }
  }
  return std::min({at_left, at_right, of(low), of(high)});
}

/// The least sum of squares with one term held and no other below 0.
double held(const checks::coast_down_input& in, std::size_t which, double value) {
  const std::array<double, 3> most{8.0, 0.08, 8e-4};
  const auto sum = [&](std::array<double, 3> terms) {
    const auto at = [&](double initial) {
      double out = 0.0;
      for (const auto& reading : in.readings) {
        const double speed = checks::coasting_speed(initial, {terms[0], terms[1], terms[2]}, reading.time.value());
        const double off = std::isfinite(speed) ? (speed - reading.speed.value()) / digit : 1e6;
        out += off * off;
      }
      return out;
    };
    return lowest(at, 99.0, 101.0, 30);
  };
  std::array<double, 3> terms{};
  terms[which] = value;
  const std::size_t first = (which + 1) % 3, second = (which + 2) % 3;
  return lowest(
      [&](double one) {
        terms[first] = one;
        return lowest(
            [&](double two) {
              terms[second] = two;
              return sum(terms);
            },
            0.0, most[second], 32);
      },
      0.0, most[first], 32);
}

TEST_CASE("at the ends of a profile interval the least sum of squares has risen by the quantile's square") {
  const double quantile = 1.6448536;  // of 90 %
  for (const auto& [terms, noise] :
       {std::pair{checks::friction_terms{3.0, 0.0, 3e-4}, 0.05}, {checks::friction_terms{0.0, 0.02, 2e-4}, 0.3}}) {
    const auto in = coasting(terms, 9, noise);
    const auto found = checks::coast_down(in);
    REQUIRE(found.status == checks::coast_down_status::fitted);
    const double limit = found.chi2 + std::pow(quantile * found.scale, 2);
    const auto ends = checks::coast_down_profile(in, found, 0.9);
    const double fitted[] = {found.terms.constant, found.terms.linear, found.terms.quadratic};
    for (std::size_t k = 0; k < 3; ++k) {
      CAPTURE(k);
      CHECK(ends[k].low <= fitted[k]);
      CHECK(ends[k].high > fitted[k]);
      CHECK(near_relative(held(in, k, ends[k].high), limit, 2e-3));
      if (ends[k].low > 0.0) CHECK(near_relative(held(in, k, ends[k].low), limit, 2e-3));
      else CHECK(held(in, k, 0.0) <= limit * (1.0 + 1e-6));
    }
  }
}

TEST_CASE("three readings know little of any term, and a term that explains all has an end at 0 all the same") {
  const auto in = coasting({3.0, 0.0, 0.0}, 3, 0.0, 3.0);
  const auto found = checks::coast_down(in);
  REQUIRE(found.status == checks::coast_down_status::fitted);
  CHECK(near_relative(found.deceleration.value, 3.0, 1e-3));
  const auto ends = checks::coast_down_profile(in, found, 0.95);
  CHECK(ends[1].low == 0.0);
  CHECK(ends[2].low == 0.0);
  for (const auto& each : ends) CHECK(each.high > each.low);
}

TEST_CASE("four exact readings give back all three terms, and three do with two") {
  const checks::friction_terms all{2.0, 0.02, 3e-4};
  const auto found = checks::coast_down(coasting(all, 4, 0.0, 5.0));
  CHECK(found.fitted == std::array<bool, 3>{true, true, true});
  CHECK(near_relative(found.terms.constant, 2.0, 1e-4));
  CHECK(near_relative(found.terms.linear, 0.02, 1e-3));
  CHECK(near_relative(found.terms.quadratic, 3e-4, 1e-3));
  const auto few = checks::coast_down(coasting(all, 3, 0.0, 5.0));
  CHECK(few.status == checks::coast_down_status::fitted);
  CHECK(few.fitted != std::array<bool, 3>{true, true, true});
  CHECK(few.chi2 < 1.0);
}

TEST_CASE("a level outside 0 to 1 is refused, and without a fit there is no interval") {
  const auto in = coasting({3.0, 0.0, 0.0}, 6, 0.0);
  const auto found = checks::coast_down(in);
  for (const double level : {0.0, 1.0, -0.5, 1.5})
    CHECK_THROWS_AS(checks::coast_down_profile(in, found, level), rewound::base::error);
  CHECK_NOTHROW(checks::coast_down_profile(in, found, 0.5));
  for (const auto& each : checks::coast_down_profile(in, {}, 0.95)) {
    CHECK(std::isnan(each.low));
    CHECK(std::isnan(each.high));
  }
}

TEST_CASE("a rotor that all but stands at its second reading sets no end to drag and windage, but to its bearing") {
  auto in = coasting({0.0, 0.0, 3e-3}, 4, 0.0, 400.0);
  in.digit_uncertainty = units::angular_velocity::from_value(1.0);
  const auto found = checks::coast_down(in);
  REQUIRE(found.status == checks::coast_down_status::fitted);
  const auto ends = checks::coast_down_profile(in, found, 0.95);
  CHECK(std::isfinite(ends[0].high));
  CHECK(ends[1].high == std::numeric_limits<double>::infinity());
  CHECK(ends[2].high == std::numeric_limits<double>::infinity());
}

}  // namespace coast_profile
