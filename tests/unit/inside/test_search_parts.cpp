// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>
#include <optional>
#include <vector>

#include <near.hpp>
#include <rewound/checks/absorption.hpp>
#include <rewound/checks/suspect.hpp>

// Searches that end where they should: the exponent of least squares, and pairs of misread readings.
namespace search_parts {

namespace checks = rewound::checks;
namespace detail = rewound::checks::detail;
using rewound::measurement::suspicion;
using rewound::testing::near_absolute;
using rewound::testing::near_relative;

TEST_CASE("the least of a sum is found wherever its exponent lies between the steps, and at both ends") {
  // Of a reading at e minutes the decay tells the exponent: ln of e^-n.
  const detail::absorption_points at_e{{std::numbers::e, 1.0, 1.0}};
  detail::decays by(at_e);
  const double step = (detail::exponent_high - detail::exponent_low) / detail::exponent_steps;
  for (const double wanted : {detail::exponent_low, detail::exponent_low + 0.3 * step, 0.777, 0.777 + 0.45 * step,
                              0.777 - 0.45 * step, 1.4, detail::exponent_high - 0.3 * step, detail::exponent_high}) {
    CAPTURE(wanted);
    const auto square = [&](const double* decay) { return std::pow(-std::log(decay[0]) - wanted, 2); };
    const auto found = detail::search_exponent(by, square);
    CHECK(near_absolute(found.exponent, wanted, 1e-6));
    CHECK(near_absolute(found.chi2, 0.0, 1e-11));
    CHECK(detail::search_exponent(by, square, 1e-4).chi2 <= 1e-4);
  }
}

TEST_CASE("the sum of numbers told by their logarithms is their logarithms' sum, however large") {
  const std::array<double, 3> logs{1000.0, 1000.0 + std::log(2.0), 1000.0 + std::log(5.0)};
  CHECK(near_absolute(detail::log_sum(logs.data(), logs.size()), 1000.0 + std::log(8.0), 1e-9));
  const std::array<double, 2> small{-1000.0, -1000.0};
  CHECK(near_absolute(detail::log_sum(small.data(), small.size()), -1000.0 + std::log(2.0), 1e-9));
}

TEST_CASE("how a bench scatters is told by its other speeds, however improbable all of it is") {
  const auto usual = detail::usual_shares();
  for (const double far : {0.0, -900.0, 900.0}) {
    CAPTURE(far);
    std::vector<std::optional<detail::scatter_shares>> evidence(3);
    evidence[0] = detail::scatter_shares{far + 1.0, far, far - 1.0, far};
    evidence[2] = detail::scatter_shares{far, far + 0.5, far, far};
    const auto shares = detail::shares_beside(evidence, 1);
    std::array<double, 4> weight{};
    double sum = 0.0;
    for (std::size_t i = 0; i < 4; ++i)
      sum += weight[i] = usual[i] * std::exp((*evidence[0])[i] + (*evidence[2])[i] - 2.0 * far);
    for (std::size_t i = 0; i < 4; ++i) CHECK(near_relative(shares[i], 0.9 * weight[i] / sum + 0.1 * usual[i], 1e-9));
  }
}

/// Readings of a plain curve of one speed, some off by a factor.
std::vector<detail::log_point> curve_with(std::size_t count, const std::vector<std::pair<std::size_t, double>>& off) {
  std::vector<detail::log_point> out;
  for (std::size_t i = 0; i < count; ++i) {
    const double volts = 100.0 + 140.0 * static_cast<double>(i) / static_cast<double>(count - 1);
    double amperes = 0.42 * std::pow(volts / 230.0, 1.1);
    for (const auto& [place, factor] : off)
      if (place == i) amperes *= factor;
    out.push_back(
        {static_cast<int>(i), std::log(volts / 230.0), std::log(amperes), 0.002, 0.002, 1e-6, volts, amperes});
  }
  return out;
}

const detail::bench meters{0.0001, 0.1, detail::usual_shares()};

std::vector<int> set_aside_of(std::vector<detail::log_point> points) {
  std::vector<int> out;
  for (const auto& each : detail::off_curve(points, meters))
    if (each.set_aside) out.push_back(each.index);
  std::sort(out.begin(), out.end());
  return out;
}

TEST_CASE("of six readings two may be wrong, of three to five one, and none is more than a third") {
  CHECK(set_aside_of(curve_with(9, {{4, 1.3}})) == std::vector<int>{4});
  CHECK(set_aside_of(curve_with(9, {{2, 1.3}, {6, 0.7}})) == std::vector<int>{2, 6});
  CHECK(set_aside_of(curve_with(12, {{3, 1.25}, {4, 1.25}})) == std::vector<int>{3, 4});
  CHECK(set_aside_of(curve_with(5, {{1, 1.3}, {3, 0.7}})).size() <= 1);
}

TEST_CASE("a search of one speed takes four readings by their curve and three by what can be") {
  const auto of_four = detail::search_one_speed(curve_with(4, {{1, 0.1}}), meters);
  REQUIRE(of_four.size() >= 1);
  CHECK(of_four.front().index == 1);
  CHECK(detail::search_one_speed(curve_with(4, {}), meters).empty());
  CHECK(detail::search_one_speed(curve_with(3, {}), meters).empty());
  const auto of_three = detail::search_one_speed(curve_with(3, {{1, 0.1}}), meters);
  REQUIRE_FALSE(of_three.empty());
}

TEST_CASE("a fall at the top is told beside what was found, of four readings and more") {
  // Another reading is off as well: the fall is told all the same.
  auto points = curve_with(8, {{2, 1.4}});
  points.back().log_current = points[6].log_current - 0.05;
  points.back().current = std::exp(points.back().log_current);
  const auto found = detail::search_one_speed(points, meters);
  const auto told = [&](int index) {
    return std::any_of(found.begin(), found.end(), [&](const auto& each) { return each.index == index; });
  };
  CHECK(told(2));
  CHECK(told(7));
}

}  // namespace search_parts
