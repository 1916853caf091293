// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <numbers>
#include <random>

#include <Eigen/Cholesky>

#include <near.hpp>
#include <rewound/checks/detail/curve_evidence.hpp>

namespace detail = rewound::checks::detail;
namespace machine = rewound::machine;
using rewound::testing::near_absolute;

namespace {

/// ln(e^a + e^b)
double log_sum(double a, double b) {
  const double top = std::max(a, b);
  return top + std::log(std::exp(a - top) + std::exp(b - top));
}

std::vector<detail::shape_point> bent_run_up(std::size_t count, std::mt19937& random) {
  std::normal_distribution<double> noise(0.0, 0.004);
  std::vector<detail::shape_point> out;
  for (std::size_t i = 0; i < count; ++i) {
    const double z = std::log(0.5 + 0.55 * static_cast<double>(i) / static_cast<double>(count - 1));
    out.push_back({z, -0.9 + 1.1 * z + 0.4 * z * z + noise(random), 0.004 * 0.004});
  }
  return out;
}

/// ln of the mixture's density written out with Eigen, without the constant of 2 pi.
double dense_log_evidence(const std::vector<detail::shape_point>& points) {
  double out = -1e300;
  const auto n = static_cast<Eigen::Index>(points.size());
  constexpr auto count = static_cast<Eigen::Index>(machine::shape_function_count);
  for (const auto& kind : machine::curve_kinds())
    for (const auto& scatter : detail::extra_scatters) {
      Eigen::MatrixXd design(n, count);
      Eigen::VectorXd residual(n);
      Eigen::MatrixXd factor(count, count);
      Eigen::VectorXd mean(count);
      for (Eigen::Index j = 0; j < count; ++j) {
        mean[j] = kind.mean[static_cast<std::size_t>(j)];
        for (Eigen::Index k = 0; k < count; ++k)
          factor(j, k) = kind.factor[static_cast<std::size_t>(j)][static_cast<std::size_t>(k)];
      }
      for (Eigen::Index i = 0; i < n; ++i) {
        const auto row = machine::shape_functions_at(points[static_cast<std::size_t>(i)].z).values;
        for (Eigen::Index j = 0; j < count; ++j) design(i, j) = row[static_cast<std::size_t>(j)];
        residual[i] = points[static_cast<std::size_t>(i)].log_current;
      }
      residual -= design * mean;
      Eigen::MatrixXd covariance = design * factor * factor.transpose() * design.transpose();
      covariance.array() += detail::level_variance;
      for (Eigen::Index i = 0; i < n; ++i)
        covariance(i, i) += points[static_cast<std::size_t>(i)].variance + scatter.deviation * scatter.deviation;
      const Eigen::LLT<Eigen::MatrixXd> cholesky(covariance);
      const Eigen::MatrixXd lower = cholesky.matrixL();
      const double log_determinant = 2.0 * lower.diagonal().array().log().sum();
      const double square = residual.dot(cholesky.solve(residual));
      out = log_sum(out, std::log(kind.weight * scatter.share) - 0.5 * (square + log_determinant));
    }
  return out;
}

}  // namespace

TEST_CASE("the evidence is that of the mixture of normal distributions written out densely") {
  std::mt19937 random(5);
  for (const std::size_t count : {4u, 6u, 9u}) {
    const auto points = bent_run_up(count, random);
    CHECK(near_absolute(detail::evidence_of(points).all, dense_log_evidence(points), 1e-6));
  }
}

TEST_CASE("the evidence of all but one is that with this reading's error made as wide as a blunder") {
  std::mt19937 random(6);
  const auto points = bent_run_up(6, random);
  const auto evidence = detail::evidence_of(points);
  for (std::size_t i = 0; i < points.size(); ++i) {
    double expected = -1e300;
    for (const auto& blunder : detail::blunder_sizes) {
      auto widened = points;
      widened[i].variance += blunder.deviation * blunder.deviation;
      expected = log_sum(expected, std::log(blunder.share) + dense_log_evidence(widened));
    }
    CHECK(near_absolute(evidence.all_but[i], expected, 1e-6));
  }
}

TEST_CASE("a reading is predicted by the others as by the ratio of densities with and without it") {
  std::mt19937 random(7);
  const auto points = bent_run_up(6, random);
  const auto evidence = detail::evidence_of(points);
  const std::size_t place = 3;
  auto others = points;
  others.erase(others.begin() + place);
  const double without = dense_log_evidence(others);
  // Mean and variance of the predictive density by Simpson's rule on a wide grid about it.
  constexpr int steps = 4000;
  const double centre = evidence.by_others[place].log_current;
  const double half = 12.0 * evidence.by_others[place].uncertainty;
  double mass = 0.0;
  double mean = 0.0;
  double square = 0.0;
  for (int k = 0; k <= steps; k += 8) {
    auto moved = points;
    moved[place].log_current = centre - half + 2.0 * half * k / steps;
    const double weight = (k == 0 || k == steps ? 1.0 : (k / 8) % 2 == 1 ? 4.0 : 2.0) * 16.0 * half / steps / 3.0;
    const double density = weight * std::exp(dense_log_evidence(moved) - without) / std::sqrt(2.0 * std::numbers::pi);
    mass += density;
    mean += density * moved[place].log_current;
    square += density * std::pow(moved[place].log_current - centre, 2);
  }
  CHECK(near_absolute(mass, 1.0, 1e-3));
  CHECK(near_absolute(mean / mass, centre, 1e-4));
  CHECK(near_absolute(std::sqrt(square / mass), evidence.by_others[place].uncertainty, 1e-4));
}

TEST_CASE("moving the level of all readings changes nothing but what is predicted") {
  std::mt19937 random(8);
  auto points = bent_run_up(7, random);
  const auto before = detail::evidence_of(points);
  for (auto& point : points) point.log_current += 0.7;
  const auto after = detail::evidence_of(points);
  for (std::size_t i = 0; i < points.size(); ++i) {
    CHECK(near_absolute(after.all_but[i] - after.all, before.all_but[i] - before.all, 0.02));
    CHECK(near_absolute(after.by_others[i].log_current, before.by_others[i].log_current + 0.7, 1e-4));
  }
}
