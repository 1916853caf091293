// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <map>
#include <numeric>
#include <random>
#include <vector>

#include <Eigen/LU>

#include <near.hpp>
#include <rewound/checks/expected_current.hpp>
#include <rewound/checks/order.hpp>
#include <rewound/checks/reference_level.hpp>
#include <rewound/measurement/distribution.hpp>

// A machine beside good ones, each step against its formula written out with plain inverses.
namespace checks = rewound::checks;
namespace detail = rewound::checks::detail;
namespace fit = rewound::fit;
namespace measurement = rewound::measurement;
using Eigen::MatrixXd;
using Eigen::VectorXd;
using rewound::testing::near_absolute;
using rewound::testing::near_relative;

namespace {

MatrixXd positive(Eigen::Index size, double scale, unsigned seed) {
  std::mt19937 random(seed);
  std::normal_distribution<double> normal;
  const MatrixXd root = MatrixXd::NullaryExpr(size, size, [&] { return normal(random); });
  return scale * scale * (root * root.transpose() / static_cast<double>(size) + MatrixXd::Identity(size, size));
}

/// Three speeds of three coefficients; machines far apart in level.
fit::population three_speeds(double dof = 12.0) {
  fit::population out;
  out.mean = VectorXd::Zero(9);
  out.mean << -0.9, 1.1, 0.1, -1.0, 1.0, 0.0, -1.15, 0.9, -0.1;
  out.mean_covariance = positive(9, 0.01, 1);
  out.between = positive(9, 0.03, 2);
  out.degrees_of_freedom = dof;
  out.units = 5;
  return out;
}

/// Readings at some voltages as normal equations of parabola and shape functions, with noise 0.01.
fit::unit_information run_of(double level, double slope,
                             const std::vector<double>& ratios = {0.5, 0.65, 0.8, 0.9, 1.0, 1.08}) {
  fit::unit_information out{MatrixXd::Zero(detail::summary_terms, detail::summary_terms),
                            VectorXd::Zero(detail::summary_terms)};
  for (const double x : ratios) {
    const VectorXd row = detail::basis(x);
    out.precision += 1e4 * row * row.transpose();
    out.weighted += 1e4 * row * (level + slope * std::log(x));
  }
  return out;
}

fit::mean_shape some_shape() {
  const Eigen::Index rest = detail::summary_terms - 3;
  return {VectorXd::LinSpaced(rest, -0.02, 0.03), positive(rest, 0.02, 3)};
}

/// The machine's own coefficients less the mean and their covariance, the last ones from `free` on held to the
/// population.
std::pair<VectorXd, MatrixXd> held(const fit::unit_information& whole, const fit::mean_shape& shape, Eigen::Index place,
                                   const fit::population& good, Eigen::Index free) {
  const Eigen::Index rest = shape.coefficients.size();
  const MatrixXd own = whole.precision.topLeftCorner(3, 3);
  const MatrixXd beside = whole.precision.topRightCorner(3, rest);
  MatrixXd precision = own;
  for (Eigen::Index i = free; i < 3; ++i)
    precision(i, i) += 1.0 / (good.between(place + i, place + i) + good.mean_covariance(place + i, place + i));
  const MatrixXd covariance = precision.inverse();
  const VectorXd left = whole.weighted.head(3) - beside * shape.coefficients - own * good.mean.segment(place, 3);
  return {covariance * left,
          covariance + covariance * beside * shape.covariance * beside.transpose() * covariance.transpose()};
}

double p_of(double square, double d, double dof) {
  if (std::isinf(dof) || dof <= d + 1.0) return measurement::chi_squared_tail(square, d);
  return measurement::fisher_tail(square * (dof - d + 1.0) / (dof * d), d, dof - d + 1.0);
}

}  // namespace

TEST_CASE("one more good machine's current is the mean curve with its shape, spread by all that spreads") {
  checks::expected_current_input in;
  in.population = three_speeds();
  in.place = 3;
  in.ammeter_uncertainty = 0.013;
  in.voltmeter_uncertainty = 0.02;
  for (const bool with_shape : {false, true}) {
    if (with_shape) in.shape = some_shape();
    for (const double x : {0.55, 1.0, 1.1}) {
      in.x = x;
      const auto value = [&](double at) {
        const VectorXd row = detail::basis(at);
        const double sum = row.head(3).dot(in.population.mean.segment(3, 3));
        return with_shape ? sum + row.tail(row.size() - 3).dot(in.shape.coefficients) : sum;
      };
      const auto found = checks::expected_current(in);
      CHECK(near_relative(found.log_value, value(x), 1e-12));
      const double exponent = (value(x * std::exp(0.02)) - value(x * std::exp(-0.02))) / 0.04;
      CHECK(near_relative(found.exponent, exponent, 1e-9));
      const VectorXd row = detail::basis(x);
      const MatrixXd spread = in.population.between.block(3, 3, 3, 3) + in.population.mean_covariance.block(3, 3, 3, 3);
      double variance = row.head(3).dot(spread * row.head(3));
      if (with_shape) variance += row.tail(row.size() - 3).dot(in.shape.covariance * row.tail(row.size() - 3));
      const double beyond = rewound::machine::shape_functions_at(std::log(x)).beyond_uncertainty;
      variance += beyond * beyond + 0.013 * 0.013 + exponent * exponent * 0.02 * 0.02;
      CHECK(near_relative(found.log_uncertainty, std::sqrt(variance), 1e-9));
      CHECK(found.degrees_of_freedom == 12.0);
    }
  }
}

TEST_CASE("ways of exchanging the speeds are weighed by Bayes' rule, as listed with 0.95 beforehand") {
  checks::order_input in;
  in.population = three_speeds();
  in.runs = {run_of(-0.98, 1.0), run_of(-0.93, 1.1, {0.5, 0.6, 0.7}), run_of(-1.12, 0.9)};
  in.shapes = {some_shape(), some_shape(), some_shape()};
  in.shapes[1].coefficients *= -1.0;
  in.shapes[2].covariance *= 9.0;
  in.places = {0, 3, 6};
  in.common_uncertainty = 0.02;
  std::map<std::vector<std::size_t>, double> expected;
  std::vector<std::size_t> way{0, 1, 2};
  double sum = 0.0;
  do {
    VectorXd difference(3);
    MatrixXd covariance(3, 3);
    for (Eigen::Index i = 0; i < 3; ++i) {
      const auto run = static_cast<std::size_t>(i);
      const auto place = in.places[way[run]];
      const auto [off, own] = held(in.runs[run], in.shapes[way[run]], place, in.population, 1);
      difference[i] = off[0];
      for (Eigen::Index j = 0; j < 3; ++j) {
        const auto other = in.places[way[static_cast<std::size_t>(j)]];
        covariance(i, j) = in.population.between(place, other) + in.population.mean_covariance(place, other) +
                           0.02 * 0.02 + (i == j ? own(0, 0) : 0.0);
      }
    }
    const double prior = way == std::vector<std::size_t>{0, 1, 2} ? 0.95 : 0.05 / 5.0;
    const double density = prior * std::exp(-0.5 * difference.dot(covariance.inverse() * difference)) /
                           std::sqrt(covariance.determinant());
    expected[way] = density;
    sum += density;
  } while (std::next_permutation(way.begin(), way.end()));
  const auto found = checks::order(in);
  REQUIRE(found.assignments.size() == 6);
  double before = 1.0, total = 0.0;
  for (const auto& each : found.assignments) {
    CHECK(near_relative(each.probability, expected[each.speed_of_run] / sum, 1e-6));
    CHECK(each.probability <= before);
    before = each.probability;
    total += each.probability;
  }
  CHECK(near_relative(total, 1.0, 1e-9));
  in.as_listed = 0.5;
  for (const auto& each : checks::order(in).assignments)
    if (each.speed_of_run == std::vector<std::size_t>{0, 1, 2})
      CHECK(near_relative(
          each.probability,
          expected[each.speed_of_run] / 0.95 * 0.5 /
              (expected[each.speed_of_run] / 0.95 * 0.5 + (sum - expected[each.speed_of_run]) / 0.05 * 0.5),
          1e-6));
}

TEST_CASE("fewer than two runs and more than six have no order to be told") {
  const auto refused = [](std::size_t count) {
    checks::order_input in;
    in.population.mean = VectorXd::Zero(3);
    in.population.mean_covariance = in.population.between = 1e-4 * MatrixXd::Identity(3, 3);
    in.common_uncertainty = 0.01;
    for (std::size_t i = 0; i < count; ++i) {
      in.runs.push_back(run_of(0.0, 1.0));
      in.shapes.push_back(some_shape());
      in.places.push_back(0);
    }
    try {
      checks::order(in);
    } catch (const rewound::base::error&) {
      return true;
    }
    return false;
  };
  CHECK(refused(1));
  CHECK_FALSE(refused(2));
  CHECK_FALSE(refused(6));
  CHECK(refused(7));
}

TEST_CASE("a quadratic form beside a spread of few machines is Hotelling's, beside many or too few chi-squared") {
  for (const double square : {0.5, 4.0, 20.0}) {
    CHECK(near_relative(detail::quadratic_p_value(square, 3, 12.0),
                        measurement::fisher_tail(square * 10.0 / 36.0, 3.0, 10.0), 1e-12));
    CHECK(near_relative(detail::quadratic_p_value(square, 3, 4.01),
                        measurement::fisher_tail(square * 2.01 / (4.01 * 3.0), 3.0, 2.01), 1e-12));
    CHECK(near_relative(detail::quadratic_p_value(square, 3, 4.0), measurement::chi_squared_tail(square, 3.0), 1e-12));
    CHECK(near_relative(detail::quadratic_p_value(square, 3, std::numeric_limits<double>::infinity()),
                        measurement::chi_squared_tail(square, 3.0), 1e-12));
  }
}

TEST_CASE("false alarms are shared: a half for anything, 0.3 for levels in common, 0.2 for a level by itself") {
  const MatrixXd covariance = positive(4, 1.0, 5);
  const MatrixXd inverse = covariance.inverse();
  const std::vector<detail::level_row> levels{{0, 1}, {2, 1}, {3, 2}};
  int any_first = 0, one_first = 0, common_first = 0;
  std::mt19937 random(8);
  std::normal_distribution<double> normal;
  for (int run = 0; run < 200; ++run) {
    VectorXd off = VectorXd::NullaryExpr(4, [&] { return 2.0 * normal(random); });
    // Now and then one level alone is off, or a channel's levels alike.
    if (run % 3 == 1) off = VectorXd(off[0] * covariance.col(3));
    if (run % 3 == 2) off = VectorXd(off[0] * (covariance.col(0) + covariance.col(2)));
    const VectorXd score = inverse * off;
    const double any = p_of(off.dot(score), 4.0, 12.0) / 0.5;
    double one = 1e300, common = 1e300;
    for (const auto& level : levels)
      one = std::min(one,
                     p_of(score[level.row] * score[level.row] / inverse(level.row, level.row), 1.0, 12.0) * 3.0 / 0.2);
    for (const VectorXd& along :
         {VectorXd(VectorXd::Unit(4, 0) + VectorXd::Unit(4, 2)), VectorXd(VectorXd::Unit(4, 3))})
      common =
          std::min(common, p_of(std::pow(along.dot(score), 2) / along.dot(inverse * along), 1.0, 12.0) * 2.0 / 0.3);
    const double expected = std::min({1.0, any, one, common});
    CHECK(near_relative(detail::combined_p_value(inverse, off, levels, 12.0), expected, 1e-9));
    if (expected < 1.0) (expected == any ? any_first : expected == one ? one_first : common_first) += 1;
  }
  CHECK(any_first > 3);
  CHECK(one_first + common_first > 3);
  CHECK(common_first > 3);
  // One coefficient alone is one question.
  const MatrixXd single = MatrixXd::Constant(1, 1, 4.0);
  CHECK(near_relative(detail::combined_p_value(single, VectorXd::Constant(1, 0.7), {{0, 1}}, 12.0),
                      p_of(4.0 * 0.49, 1.0, 12.0), 1e-12));
}

TEST_CASE("levels, their spread, their covariance and the joint test are those of the formulas") {
  const auto good = three_speeds();
  checks::reference_level_input in;
  in.population = good;
  in.blocks = {{run_of(-0.80, 1.2), some_shape(), 2, 0, 0.008, 1},
               {run_of(-0.95, 1.0), some_shape(), 1, 3, 0.012, 1},
               {run_of(-1.20, 0.8), some_shape(), 0, 6, 0.02, 2}};
  const auto found = checks::reference_level(in);
  CHECK(found.tested == 3);
  std::vector<std::pair<VectorXd, MatrixXd>> own;
  for (const auto& block : in.blocks)
    own.push_back(held(block.information, block.shape, block.place, good, block.tested));
  for (std::size_t a = 0; a < 3; ++a) {
    const auto& block = in.blocks[a];
    const double mine = own[a].second(0, 0);
    const double measured = mine + good.mean_covariance(block.place, block.place) + std::pow(block.gain_uncertainty, 2);
    CHECK(near_relative(found.log_level[a].value, own[a].first[0], 1e-6));
    CHECK(near_relative(found.log_level[a].standard_uncertainty, std::sqrt(measured), 1e-6));
    CHECK(near_relative(found.log_level_own[a], std::sqrt(mine), 1e-6));
    CHECK(near_relative(found.log_level_spread[a], std::sqrt(measured + good.between(block.place, block.place)), 1e-6));
    for (std::size_t b = 0; b < 3; ++b) {
      const auto& other = in.blocks[b];
      double expected = good.mean_covariance(block.place, other.place) + (a == b ? mine : 0.0);
      if (block.gain_group == other.gain_group) expected += block.gain_uncertainty * other.gain_uncertainty;
      CHECK(near_relative(found.level_covariance(static_cast<Eigen::Index>(a), static_cast<Eigen::Index>(b)), expected,
                          1e-6));
    }
  }
  // The joint test: level and slope of the first speed, the level of the second; the third is not tested.
  const std::vector<std::pair<std::size_t, Eigen::Index>> asked{{0, 0}, {0, 1}, {1, 0}};
  VectorXd off(3);
  MatrixXd covariance(3, 3);
  for (std::size_t row = 0; row < 3; ++row) {
    const auto [a, i] = asked[row];
    off[static_cast<Eigen::Index>(row)] = own[a].first[i];
    for (std::size_t column = 0; column < 3; ++column) {
      const auto [b, j] = asked[column];
      const auto p = in.blocks[a].place + i, q = in.blocks[b].place + j;
      double each = good.between(p, q) + good.mean_covariance(p, q) + (a == b ? own[a].second(i, j) : 0.0);
      if (i == 0 && j == 0) each += in.blocks[a].gain_uncertainty * in.blocks[b].gain_uncertainty;
      covariance(static_cast<Eigen::Index>(row), static_cast<Eigen::Index>(column)) = each;
    }
  }
  const double p = detail::combined_p_value(covariance.inverse(), off, {{0, 1}, {2, 1}}, 12.0);
  CHECK(p < 0.5);
  CHECK(near_relative(found.p_value, p, 1e-5));
  for (auto& block : in.blocks) block.tested = 0;
  CHECK(checks::reference_level(in).p_value == 1.0);
}
