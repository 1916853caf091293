// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <functional>
#include <random>
#include <vector>

#include <near.hpp>
#include <rewound/fit/current_interval.hpp>
#include <rewound/fit/curve_choice.hpp>

namespace fit = rewound::fit;
using fit::curve_family;
using rewound::testing::near_absolute;
using rewound::testing::near_relative;

// Readings of the project's own simulation: curves with known parameters, and normal errors of the size stated.
namespace {

constexpr double u_current = 0.003;
constexpr double u_voltage = 0.0005;

std::vector<double> even(double low, double high, int count) {
  std::vector<double> out;
  for (int i = 0; i < count; ++i) out.push_back(low + (high - low) * i / (count - 1));
  return out;
}

std::vector<fit::curve_reading> read(const std::function<double(double)>& log_current, const std::vector<double>& at,
                                     double noise = 0.0, unsigned seed = 1) {
  std::mt19937 random(seed);
  std::normal_distribution<double> normal;
  std::vector<fit::curve_reading> out;
  for (const double x : at) out.push_back({x, std::exp(log_current(x) + noise * normal(random)), u_voltage, u_current});
  return out;
}

double straight(double x) { return std::log(0.4) + 1.1 * std::log(x); }
double magnetising(double x) { return std::log(0.30 * x + 0.12 * std::pow(x, 5.0)); }
/// A fan-loaded machine: the exponent is -0.45 at half voltage and 0.8 at the rated one.
double turning(double x) { return std::log(0.4) + (0.8 + 0.9 * std::log(x)) * std::log(x); }

/// How often each family is chosen over noisy repetitions.
int times_chosen(curve_family family, const std::function<double(double)>& curve, const std::vector<double>& at,
                 int repetitions) {
  int out = 0;
  for (int i = 0; i < repetitions; ++i) {
    const auto chosen = fit::fit_current_curve(read(curve, at, u_current, 100u + static_cast<unsigned>(i)));
    if (chosen && chosen->family == family) ++out;
  }
  return out;
}

}  // namespace

TEST_CASE("a power law is fitted as one in nearly all noisy run-ups") {
  // A simpler model within two units of the criterion is kept, so a richer one is taken when chance gives it more than
  // chi2 = 2 + 2 + its correction; for 12 readings and one more parameter that is 5.9, 1.5 % of cases, and two rivals.
  CHECK(times_chosen(curve_family::power, straight, even(0.45, 1.05, 12), 60) >= 55);
}

TEST_CASE("a curve that saturates is fitted as magnetising where the readings can tell") {
  CHECK(times_chosen(curve_family::magnetising, magnetising, even(0.35, 1.1, 16), 40) >= 32);
  // Never as a power law: over this range it is 10 % off, thirty times the noise.
  CHECK(times_chosen(curve_family::power, magnetising, even(0.35, 1.1, 16), 40) == 0);
}

TEST_CASE("parameters of a magnetising curve are recovered without error in the readings") {
  const auto curve = fit::fit_current_curve(read(magnetising, even(0.35, 1.1, 16)));
  REQUIRE(curve);
  REQUIRE(curve->family == curve_family::magnetising);
  // The search stops at a relative change of the parameters far below this.
  CHECK(near_relative(curve->parameters[0], 0.30, 1e-5));
  CHECK(near_relative(curve->parameters[1], 0.12, 1e-5));
  CHECK(near_relative(curve->parameters[2], 5.0, 1e-5));
}

TEST_CASE("parameters of a magnetising curve are recovered within their uncertainty from noisy readings") {
  int inside = 0;
  constexpr int repetitions = 60;
  for (int i = 0; i < repetitions; ++i) {
    const auto curve = fit::fit_current_curve(
        curve_family::magnetising, read(magnetising, even(0.35, 1.1, 16), u_current, 300u + static_cast<unsigned>(i)));
    REQUIRE(curve);
    const double off = std::abs(curve->parameters[2] - 5.0);
    if (off <= 1.96 * std::sqrt(curve->covariance(2, 2))) ++inside;
  }
  // 57 expected of 60 at 95 %; 50 or fewer has a binomial probability of 2e-3.
  CHECK(inside >= 51);
}

TEST_CASE("a curve whose exponent changes sign is fitted, with the exponent on both sides") {
  const auto curve = fit::fit_current_curve(read(turning, even(0.5, 1.05, 10)));
  REQUIRE(curve);
  CHECK(curve->family == curve_family::log_quadratic);
  CHECK(near_absolute(fit::exponent(*curve, 1.0)->value, 0.8, 1e-6));
  CHECK(near_absolute(fit::exponent(*curve, 0.5)->value, 0.8 + 1.8 * std::log(0.5), 1e-6));
  CHECK(fit::exponent(*curve, 0.5)->value < 0.0);
  CHECK(times_chosen(curve_family::power, turning, even(0.5, 1.05, 10), 30) == 0);
}

TEST_CASE("no family is fitted that leaves no room to judge it") {
  for (const int count : {2, 3, 4, 5, 6, 7, 8}) {
    CAPTURE(count);
    for (const auto& curve : {magnetising, turning, straight}) {
      const auto chosen = fit::fit_current_curve(read(curve, even(0.4, 1.1, count), u_current, 7));
      REQUIRE(chosen);
      if (chosen->family == curve_family::power || chosen->family == curve_family::proportional) continue;
      CHECK(count >= fit::parameter_count(chosen->family) + 2);
    }
  }
}

TEST_CASE("many readings of two voltages carry a power law and nothing richer") {
  const auto chosen = fit::fit_current_curve(read(turning, {0.6, 0.6, 0.6, 0.6, 1.0, 1.0, 1.0, 1.0}));
  REQUIRE(chosen);
  CHECK(chosen->family == curve_family::power);
}

TEST_CASE("the choice does not depend on the order of the readings") {
  auto readings = read(magnetising, even(0.4, 1.1, 12), u_current, 5);
  const auto first = fit::fit_current_curve(readings);
  std::shuffle(readings.begin(), readings.end(), std::mt19937(3));
  const auto second = fit::fit_current_curve(readings);
  REQUIRE(first);
  REQUIRE(second);
  CHECK(first->family == second->family);
  // Sums in another order differ by rounding, which the search's end amplifies.
  CHECK(near_absolute(fit::log_current(*first, 1.0).value, fit::log_current(*second, 1.0).value, 1e-8));
}

TEST_CASE("extrapolation widens, the more the farther, in every family chosen") {
  for (const auto& curve : {straight, magnetising, turning}) {
    const auto chosen = fit::fit_current_curve(read(curve, even(0.5, 0.9, 12), u_current, 11));
    REQUIRE(chosen);
    CAPTURE(static_cast<int>(chosen->family));
    const auto u = [&](double x) { return fit::log_current(*chosen, x).standard_uncertainty; };
    CHECK(u(1.0) > u(0.7));
    CHECK(u(1.2) > 1.5 * u(1.0));
    CHECK(u(1.4) > u(1.2));
    CHECK(u(0.3) > 1.5 * u(0.7));
  }
}

TEST_CASE("the chosen curve's interval inside the readings covers the true current") {
  int inside = 0;
  constexpr int repetitions = 150;
  for (int i = 0; i < repetitions; ++i) {
    const auto chosen =
        fit::fit_current_curve(read(magnetising, even(0.45, 1.05, 8), u_current, 900u + static_cast<unsigned>(i)));
    REQUIRE(chosen);
    const auto interval = fit::current_interval(*chosen, 1.0, 0.95);
    const double truth = std::exp(magnetising(1.0));
    if (interval.low <= truth && truth <= interval.high) ++inside;
  }
  // 142 expected of 150; choosing a family costs a little. 130 is what 90 % coverage falls below once in seven times.
  CHECK(inside >= 130);
}

TEST_CASE("a family that is not fitted since it cannot win would not have been chosen") {
  int left_out = 0;
  for (const auto& curve : {std::function(straight), std::function(magnetising), std::function(turning)})
    for (const double noise : {0.2, 1.0, 3.0})
      for (int count = 5; count <= 10; ++count)
        for (unsigned seed = 1; seed <= 5; ++seed) {
          const auto readings = read(curve, even(0.5, 1.05, count), noise * u_current, seed);
          std::vector<fit::current_curve> all;
          for (const auto family : fit::families_by_simplicity) {
            const auto p = static_cast<std::size_t>(fit::parameter_count(family));
            if (readings.size() < p + 2) continue;
            if (auto one = fit::fit_current_curve(family, readings)) all.push_back(std::move(*one));
          }
          left_out += all.size() > fit::detail::candidates(readings).size() ? 1 : 0;
          const auto& expected = fit::detail::chosen_of(all, readings.size(), fit::detail::scatter_of(all));
          const auto chosen = fit::fit_current_curve(readings);
          CHECK(chosen->family == expected.family);
          CHECK(chosen->parameters == expected.parameters);
        }
  CHECK(left_out > 50);
}
