// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <random>
#include <vector>

#include <Eigen/Cholesky>

#include <near.hpp>
#include <rewound/checks/reference_level.hpp>
#include <rewound/fit/pooling.hpp>

namespace checks = rewound::checks;
namespace fit = rewound::fit;
using rewound::testing::near_absolute;
using rewound::testing::near_relative;

// Machines of the project's own simulation: two speeds of three coefficients (level, slope, curvature) each.
namespace {

constexpr Eigen::Index size = 6;

Eigen::MatrixXd between() {
  const double sd[size] = {0.04, 0.08, 0.10, 0.04, 0.08, 0.10};
  Eigen::MatrixXd out(size, size);
  for (Eigen::Index i = 0; i < size; ++i)
    for (Eigen::Index j = 0; j < size; ++j)
      out(i, j) = i == j ? sd[i] * sd[i] : i % 3 == j % 3 ? 0.7 * sd[i] * sd[j] : 0.0;
  return out;
}

/// A population known exactly, as thousands of machines would leave it.
fit::population known_population() {
  fit::population out;
  out.mean = Eigen::VectorXd::Zero(size);
  out.mean << -0.9, 1.1, 0.1, -1.1, 1.0, 0.0;
  out.mean_covariance = Eigen::MatrixXd::Zero(size, size);
  out.between = between();
  out.degrees_of_freedom = std::numeric_limits<double>::infinity();
  out.units = 1000;
  return out;
}

const std::vector<double> own_uncertainty{0.003, 0.02, 0.05};

Eigen::MatrixXd own_covariance() {
  Eigen::MatrixXd out = Eigen::MatrixXd::Zero(3, 3);
  for (Eigen::Index i = 0; i < 3; ++i) out(i, i) = std::pow(own_uncertainty[static_cast<std::size_t>(i)], 2);
  return out;
}

Eigen::VectorXd normal_vector(const Eigen::MatrixXd& covariance, std::mt19937& random) {
  std::normal_distribution<double> normal;
  Eigen::VectorXd z(covariance.rows());
  for (Eigen::Index i = 0; i < z.size(); ++i) z[i] = normal(random);
  return covariance.llt().matrixL() * z;
}

checks::block_comparison block_at(const Eigen::VectorXd& coefficients, Eigen::Index place, double gain) {
  const Eigen::MatrixXd precision = fit::symmetric_inverse(own_covariance());
  return {{precision, precision * coefficients.segment(place, 3)}, {}, 2, place, gain, 0};
}

/// A machine off from the mean by `off`, and by a healthy machine's chance if asked.
checks::reference_level_result judged(const Eigen::VectorXd& off, double gain = 0.0, std::mt19937* chance = nullptr) {
  const auto population = known_population();
  Eigen::VectorXd coefficients = population.mean + off;
  if (chance != nullptr) {
    coefficients += normal_vector(between(), *chance);
    const double error = std::normal_distribution<double>(0.0, std::max(gain, 1e-12))(*chance);
    for (const Eigen::Index place : {0, 3}) {
      coefficients.segment(place, 3) += normal_vector(own_covariance(), *chance);
      coefficients[place] += error;
    }
  }
  return checks::reference_level({{block_at(coefficients, 0, gain), block_at(coefficients, 3, gain)}, population});
}

Eigen::VectorXd level_shift(double first, double second) {
  Eigen::VectorXd out = Eigen::VectorXd::Zero(size);
  out[0] = first;
  out[3] = second;
  return out;
}

constexpr int machines = 4000;

/// How often healthy machines fall below a p-value.
double share_below(double limit, double gain, unsigned seed) {
  std::mt19937 random(seed);
  int below = 0;
  for (int i = 0; i < machines; ++i)
    below += judged(Eigen::VectorXd::Zero(size), gain, &random).p_value < limit ? 1 : 0;
  return static_cast<double>(below) / machines;
}

}  // namespace

TEST_CASE("healthy machines raise no more alarms than asked, with or without a gain error common to the speeds") {
  for (const double gain : {0.0, 0.03})
    for (const double limit : {0.01, 0.05}) {
      CAPTURE(gain);
      CAPTURE(limit);
      const double share = share_below(limit, gain, 1);
      // Three standard errors above the limit; the shares of the directions overlap, so fewer is no fault.
      CHECK(share < limit + 3.0 * std::sqrt(limit / machines));
      CHECK(share > 0.4 * limit);
    }
}

TEST_CASE("a machine at the mean gives no evidence") {
  const auto result = judged(Eigen::VectorXd::Zero(size));
  CHECK(result.p_value > 1.0 - 1e-9);
  CHECK(result.tested == 4);
  for (const auto& level : result.log_level) CHECK(near_absolute(level.value, 0.0, 1e-12));
}

TEST_CASE("a level shift is found, with its size and sign") {
  for (const double shift : {0.25, -0.25}) {
    const auto result = judged(level_shift(shift, shift));
    CHECK(result.p_value < 1e-4);
    REQUIRE(result.log_level.size() == 2);
    // A slope and curvature of their own are allowed for, so a pure level shift comes out whole.
    for (const auto& level : result.log_level) CHECK(near_absolute(level.value, shift, 1e-3));
  }
}

TEST_CASE("a shift of one speed alone stands out more than the same shift of both") {
  // Levels of healthy machines go together: the sd of their difference is 0.04 sqrt(2 x 0.3) = 0.031.
  CHECK(judged(level_shift(0.12, 0.0)).p_value < judged(level_shift(0.12, 0.12)).p_value);
}

TEST_CASE("a common gain error excuses a shift of all speeds but not of one") {
  CHECK(judged(level_shift(0.15, 0.15), 0.05).p_value > 10.0 * judged(level_shift(0.15, 0.15)).p_value);
  // On a difference of two speeds a common error drops out, so even a gross one excuses nothing.
  CHECK(judged(level_shift(0.10, -0.10), 0.5).p_value < 1e-4);
}

TEST_CASE("gain errors of different meters do not cancel between the blocks") {
  const auto population = known_population();
  const Eigen::VectorXd at = population.mean + level_shift(0.10, -0.10);
  auto first = block_at(at, 0, 0.05);
  auto second = block_at(at, 3, 0.05);
  const double shared = checks::reference_level({{first, second}, population}).p_value;
  second.gain_group = 1;
  CHECK(checks::reference_level({{first, second}, population}).p_value > 2.0 * shared);
}

TEST_CASE("the spread of a healthy level is the root sum of its parts") {
  const auto result = judged(Eigen::VectorXd::Zero(size), 0.02);
  const double measured = result.log_level[0].standard_uncertainty;
  CHECK(near_relative(measured, std::hypot(0.003, 0.02), 1e-3));
  CHECK(near_relative(result.log_level_spread[0], std::hypot(measured, 0.04), 1e-6));
}

TEST_CASE("a coefficient that is not tested neither helps nor harms") {
  const auto population = known_population();
  for (const double curvature : {0.0, 0.3}) {
    Eigen::VectorXd at = population.mean;
    at[2] += curvature;
    at[5] += curvature;
    // The readings say nothing of the curvature at all.
    std::vector<checks::block_comparison> blocks{block_at(at, 0, 0.0), block_at(at, 3, 0.0)};
    for (auto& block : blocks) {
      block.information.precision.row(2).setZero();
      block.information.precision.col(2).setZero();
      block.information.weighted = block.information.precision * at.segment(block.place, 3);
    }
    const auto result = checks::reference_level({blocks, population});
    CHECK(result.p_value > 1.0 - 1e-9);
    CHECK(near_absolute(result.log_level[0].value, 0.0, 1e-9));
  }
}

TEST_CASE("a machine read at one voltage is judged by its level alone") {
  const auto population = known_population();
  Eigen::VectorXd at = population.mean;
  at[0] += 0.10;
  auto block = block_at(at, 0, 0.0);
  block.tested = 1;
  block.information.precision = Eigen::MatrixXd::Zero(3, 3);
  block.information.precision(0, 0) = 1.0 / (0.003 * 0.003);
  block.information.weighted = block.information.precision * at.head(3);
  const auto result = checks::reference_level({{block}, population});
  CHECK(result.tested == 1);
  // One normal deviate: 0.10 over the healthy spread.
  const double z = 0.10 / std::hypot(0.003, 0.04);
  CHECK(near_relative(result.p_value, std::erfc(z / std::sqrt(2.0)), 1e-3));
}

TEST_CASE("a spread estimated from few machines makes the joint test slower to alarm") {
  auto population = known_population();
  const Eigen::VectorXd at = population.mean + level_shift(0.15, 0.0);
  const auto p = [&](double dof) {
    population.degrees_of_freedom = dof;
    return checks::reference_level({{block_at(at, 0, 0.0), block_at(at, 3, 0.0)}, population}).p_value;
  };
  CHECK(p(12.0) > p(50.0));
  CHECK(p(50.0) > p(std::numeric_limits<double>::infinity()));
  CHECK(near_relative(p(1e7), p(std::numeric_limits<double>::infinity()), 1e-3));
}

TEST_CASE("no blocks are no evidence") {
  const auto result = checks::reference_level({{}, known_population()});
  CHECK(result.p_value == 1.0);
  CHECK(result.tested == 0);
}
