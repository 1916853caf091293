// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <random>
#include <vector>

#include <Eigen/Cholesky>

#include <near.hpp>
#include <rewound/base/error.hpp>
#include <rewound/fit/pooling.hpp>
#include <rewound/measurement/distribution.hpp>
#include <simulation_size.hpp>

namespace fit = rewound::fit;
using rewound::testing::near_absolute;
using rewound::testing::near_relative;

// Units of the project's own simulation: coefficients drawn from a normal distribution, read with known precision.
namespace {

Eigen::MatrixXd spread_of(double level, double slope, double correlation) {
  Eigen::MatrixXd out(2, 2);
  out << level * level, correlation * level * slope, correlation * level * slope, slope * slope;
  return out;
}

const Eigen::MatrixXd prior_covariance = spread_of(0.04, 0.08, 0.0);

Eigen::VectorXd draw(const Eigen::MatrixXd& covariance, std::mt19937& random) {
  std::normal_distribution<double> normal;
  Eigen::VectorXd z(covariance.rows());
  for (Eigen::Index i = 0; i < z.size(); ++i) z[i] = normal(random);
  return covariance.llt().matrixL() * z;
}

/// A unit whose coefficients are known to `own` (standard uncertainties 0.005 and 0.02).
fit::unit_information unit_at(const Eigen::VectorXd& coefficients, double scale = 1.0) {
  const Eigen::MatrixXd precision = fit::symmetric_inverse(scale * scale * spread_of(0.005, 0.02, 0.3));
  return {precision, precision * coefficients};
}

std::vector<fit::unit_information> simulated(const Eigen::VectorXd& mean, const Eigen::MatrixXd& between, int count,
                                             std::mt19937& random) {
  std::vector<fit::unit_information> out;
  for (int i = 0; i < count; ++i)
    out.push_back(unit_at(mean + draw(between, random) + draw(spread_of(0.005, 0.02, 0.3), random)));
  return out;
}

const Eigen::VectorXd truth = Eigen::Vector2d(-0.9, 1.1);

/// Nothing is believed of the mean.
const fit::mean_prior open_mean{Eigen::Vector2d::Zero(), Eigen::Vector2d::Constant(1e3)};

double largest_difference(const Eigen::MatrixXd& a, const Eigen::MatrixXd& b) { return (a - b).cwiseAbs().maxCoeff(); }

}  // namespace

TEST_CASE("with one unit the spread is the prior and the mean the unit") {
  for (const double weight : {2.0, 8.0, 50.0}) {
    const auto pooled = fit::pool({unit_at(truth)}, {prior_covariance, weight}, open_mean);
    CAPTURE(weight);
    // One unit says nothing of a spread: the restricted likelihood is flat in it.
    CHECK(largest_difference(pooled.between, prior_covariance) < 1e-6 * prior_covariance.maxCoeff());
    CHECK(largest_difference(pooled.mean, truth) < 1e-6);
    CHECK(std::isinf(pooled.degrees_of_freedom));
    CHECK(pooled.units == 1);
    const Eigen::MatrixXd expected = prior_covariance + spread_of(0.005, 0.02, 0.3);
    CHECK(largest_difference(pooled.mean_covariance, expected) < 1e-4 * expected.maxCoeff());
  }
}

TEST_CASE("with two hundred units the spread is the data's") {
  std::mt19937 random(4);
  const Eigen::MatrixXd between = spread_of(0.08, 0.04, 0.5);
  const auto pooled = fit::pool(simulated(truth, between, 200, random), {prior_covariance, 8.0}, open_mean);
  // A variance of 200 units scatters by sqrt(2 / 200) = 10 %, and the prior's 8 units of 208 pull by 4 % of the
  // difference; 25 % is over two standard errors.
  CHECK(near_relative(pooled.between(0, 0), between(0, 0), 0.25));
  CHECK(near_relative(pooled.between(1, 1), between(1, 1), 0.45));
  CHECK(near_absolute(pooled.between(0, 1) / std::sqrt(pooled.between(0, 0) * pooled.between(1, 1)), 0.5, 0.2));
  CHECK(near_absolute(pooled.mean[0], truth[0], 3.5 * 0.08 / std::sqrt(200.0)));
  CHECK(pooled.units == 200);
  CHECK(pooled.degrees_of_freedom > 150.0);
}

TEST_CASE("the spread lies between the prior's and the data's, nearer the data with more units") {
  std::vector<double> ratios;
  for (const int count : {3, 10, 60}) {
    double sum = 0.0;
    constexpr int repetitions = 30;
    for (int i = 0; i < repetitions; ++i) {
      std::mt19937 random(static_cast<unsigned>(1000 * count + i));
      sum += fit::pool(simulated(truth, 4.0 * prior_covariance, count, random), {prior_covariance, 8.0}, open_mean)
                 .between(0, 0);
    }
    ratios.push_back(sum / repetitions / prior_covariance(0, 0));
  }
  CHECK(ratios[0] > 1.0);
  CHECK(ratios[0] < ratios[1]);
  CHECK(ratios[1] < ratios[2]);
  CHECK(ratios[2] < 4.3);
}

TEST_CASE("units that agree bring the spread down, and never below nothing") {
  std::vector<fit::unit_information> units(40, unit_at(truth));
  const auto pooled = fit::pool(units, {prior_covariance, 8.0}, open_mean);
  CHECK(pooled.between(0, 0) < 0.5 * prior_covariance(0, 0));
  CHECK(pooled.between.llt().info() == Eigen::Success);
}

TEST_CASE("the order of the units changes nothing") {
  std::mt19937 random(9);
  auto units = simulated(truth, prior_covariance, 12, random);
  const auto first = fit::pool(units, {prior_covariance, 8.0}, open_mean);
  std::shuffle(units.begin(), units.end(), random);
  const auto second = fit::pool(units, {prior_covariance, 8.0}, open_mean);
  // Only sums in another order.
  CHECK(largest_difference(first.mean, second.mean) < 1e-12);
  CHECK(largest_difference(first.between, second.between) < 1e-12);
  CHECK(largest_difference(first.mean_covariance, second.mean_covariance) < 1e-12);
}

TEST_CASE("moving every unit by the same amount moves the mean by it and leaves the spread") {
  std::mt19937 random(9);
  const auto units = simulated(truth, prior_covariance, 12, random);
  const Eigen::VectorXd by = Eigen::Vector2d(0.7, -0.4);
  auto moved = units;
  for (auto& unit : moved) unit.weighted += unit.precision * by;
  const auto first = fit::pool(units, {prior_covariance, 8.0}, open_mean);
  const auto second = fit::pool(moved, {prior_covariance, 8.0}, open_mean);
  // The vague prior about 0 is the only thing that knows where zero is: a millionth of a reading.
  CHECK(largest_difference(second.mean, first.mean + by) < 1e-8);
  CHECK(largest_difference(second.between, first.between) < 1e-9);
}

TEST_CASE("readings of one unit given in parts that add up are the same unit") {
  std::mt19937 random(12);
  const auto units = simulated(truth, prior_covariance, 6, random);
  auto joined = units;
  for (auto& unit : joined) {
    const fit::unit_information half{0.5 * unit.precision, 0.5 * unit.weighted};
    unit = {half.precision + half.precision, half.weighted + half.weighted};
  }
  CHECK(largest_difference(fit::pool(units, {prior_covariance, 8.0}, open_mean).between,
                           fit::pool(joined, {prior_covariance, 8.0}, open_mean).between) < 1e-15);
}

TEST_CASE("a unit that says nothing of a coefficient does no harm") {
  std::mt19937 random(21);
  auto units = simulated(truth, prior_covariance, 6, random);
  const auto without = fit::pool(units, {prior_covariance, 8.0}, open_mean);
  Eigen::MatrixXd level_only = Eigen::MatrixXd::Zero(2, 2);
  level_only(0, 0) = 1.0 / (0.005 * 0.005);
  units.push_back({level_only, level_only * truth});
  const auto with = fit::pool(units, {prior_covariance, 8.0}, open_mean);
  CHECK(with.mean.allFinite());
  CHECK(with.between.llt().info() == Eigen::Success);
  CHECK(with.mean_covariance(0, 0) < without.mean_covariance(0, 0));
  // The level's news reaches the slope only through a correlation that hardly exists here.
  CHECK(near_absolute(with.mean[1], without.mean[1], 0.01));
}

TEST_CASE("a coefficient that no unit knows stays unknown") {
  Eigen::MatrixXd level_only = Eigen::MatrixXd::Zero(2, 2);
  level_only(0, 0) = 1.0 / (0.005 * 0.005);
  const std::vector<fit::unit_information> units(3, {level_only, level_only * truth});
  const auto pooled = fit::pool(units, {prior_covariance, 8.0}, open_mean);
  CHECK(near_absolute(pooled.mean[0], truth[0], 1e-5));
  // What was believed of it, and no less vague.
  CHECK(near_absolute(pooled.mean[1], 0.0, 1e-6));
  CHECK(pooled.mean_covariance(1, 1) >= 0.99);
  CHECK(near_relative(pooled.between(1, 1), prior_covariance(1, 1), 1e-3));
}

TEST_CASE("the band of a new unit covers what it says, from one unit to thirty") {
  for (const int count : {1, 3, 10, 30}) {
    CAPTURE(count);
    std::mt19937 random(static_cast<unsigned>(50 + count));
    int inside = 0;
    constexpr int repetitions = rewound::testing::simulated(600);
    for (int i = 0; i < repetitions; ++i) {
      const auto pooled =
          fit::pool(simulated(truth, prior_covariance, count, random), {prior_covariance, 8.0}, open_mean);
      const double off = truth[0] + draw(prior_covariance, random)[0] - pooled.mean[0];
      const double sd = std::sqrt(pooled.between(0, 0) + pooled.mean_covariance(0, 0));
      if (std::abs(off) <= rewound::measurement::coverage_factor(0.95, pooled.degrees_of_freedom) * sd) ++inside;
    }
    // 95 % of 600 scatters by 0.9 points; the goal is 1.5 points, so 1.5 + 2 x 0.9 is allowed.
    CHECK(near_absolute(100.0 * inside / repetitions, 95.0, 3.3 + 100.0 * rewound::testing::simulation_slack));
  }
}

TEST_CASE("no units, and units of another size than the prior, are refused") {
  CHECK_THROWS_AS(fit::pool({}, {prior_covariance, 8.0}, open_mean), rewound::base::error);
  CHECK_THROWS_AS(
      fit::pool({{Eigen::MatrixXd::Identity(3, 3), Eigen::VectorXd::Zero(3)}}, {prior_covariance, 8.0}, open_mean),
      rewound::base::error);
}
