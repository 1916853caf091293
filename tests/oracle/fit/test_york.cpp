// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <cmath>

#include <Eigen/Core>

#include <rewound/fit/effective_variance.hpp>

#include "nist_tables.hpp"

// Oracle: reference/oracles/pearson_york/pearson_york.txt (Pearson 1901, York 1966, York et al. 2004), and York's
// own iteration, written out below from the 2004 paper as a second road to the same line.

namespace fit = rewound::fit;

namespace {

struct york_case {
  fit::uncertain_points points;
  double intercept, slope, u_intercept, u_slope, chi2_per_dof;
};

york_case read_york() {
  const auto lines = oracle::read_table(oracle::oracle_path("pearson_york/pearson_york.txt"));
  const Eigen::MatrixXd rows = oracle::rows_of(lines);
  york_case read;
  read.points = {rows.col(0), rows.col(1), rows.col(2).cwiseSqrt().cwiseInverse(),
                 rows.col(3).cwiseSqrt().cwiseInverse()};
  read.intercept = oracle::value_named(lines, "intercept");
  read.u_intercept = oracle::value_named(lines, "intercept", 2);
  read.slope = oracle::value_named(lines, "slope");
  read.u_slope = oracle::value_named(lines, "slope", 2);
  read.chi2_per_dof = oracle::value_named(lines, "chi2_per_dof");
  return read;
}

struct york_answer {
  double intercept, slope, variance_intercept, variance_slope, covariance;
};

/// York et al. 2004 for independent errors: weights, deviations from the weighted means, beta, adjusted points.
york_answer york_2004(const fit::uncertain_points& p, double slope) {
  const Eigen::ArrayXd wx = p.standard_uncertainty_x.array().square().inverse();
  const Eigen::ArrayXd wy = p.standard_uncertainty_y.array().square().inverse();
  double intercept = 0.0;
  Eigen::ArrayXd w, adjusted;
  for (int i = 0; i < 200; ++i) {
    w = wx * wy / (wx + slope * slope * wy);
    const double mean_x = (w * p.x.array()).sum() / w.sum();
    const double mean_y = (w * p.y.array()).sum() / w.sum();
    const Eigen::ArrayXd u = p.x.array() - mean_x;
    const Eigen::ArrayXd v = p.y.array() - mean_y;
    const Eigen::ArrayXd beta = w * (u / wy + slope * v / wx);
    slope = (w * beta * v).sum() / (w * beta * u).sum();
    intercept = mean_y - slope * mean_x;
    adjusted = mean_x + beta;
  }
  const double mean = (w * adjusted).sum() / w.sum();
  const double variance_slope = 1.0 / (w * (adjusted - mean).square()).sum();
  return {intercept, slope, 1.0 / w.sum() + mean * mean * variance_slope, variance_slope, -mean * variance_slope};
}

}  // namespace

TEST_CASE("York's line through Pearson's data has the published parameters, uncertainties and chi2") {
  const york_case known = read_york();
  REQUIRE(known.points.x.size() == 10);
  const auto line = fit::york_line(known.points);
  REQUIRE(line.usable());
  // Printed to 9 or 10 figures; 8.5 digits is half a unit of the ninth in the worst case.
  constexpr double printed = 8.5;
  CHECK(oracle::digits(line.parameters[0], known.intercept) >= printed);
  CHECK(oracle::digits(line.parameters[1], known.slope) >= printed);
  CHECK(oracle::digits(std::sqrt(line.covariance_unscaled(0, 0)), known.u_intercept) >= printed);
  CHECK(oracle::digits(std::sqrt(line.covariance_unscaled(1, 1)), known.u_slope) >= printed);
  CHECK(oracle::digits(line.chi2 / static_cast<double>(line.degrees_of_freedom), known.chi2_per_dof) >= printed);
}

TEST_CASE("the covariance of the line is York's, off-diagonal included") {
  const york_case known = read_york();
  const auto line = fit::york_line(known.points);
  const york_answer york = york_2004(known.points, -0.5);
  REQUIRE(line.usable());
  // Both are at the double-precision fixed point; the weights span five decades, which costs a few digits.
  constexpr double same = 10.0;
  CHECK(oracle::digits(line.parameters[0], york.intercept) >= same);
  CHECK(oracle::digits(line.parameters[1], york.slope) >= same);
  CHECK(oracle::digits(line.covariance_unscaled(0, 0), york.variance_intercept) >= same);
  CHECK(oracle::digits(line.covariance_unscaled(1, 1), york.variance_slope) >= same);
  CHECK(oracle::digits(line.covariance_unscaled(0, 1), york.covariance) >= same);
}

TEST_CASE("the effective-variance objective is minimised, not re-weighted") {
  const york_case known = read_york();
  Eigen::Vector2d line(5.7, -0.54);
  const Eigen::ArrayXd ux2 = known.points.standard_uncertainty_x.array().square();
  const Eigen::ArrayXd uy2 = known.points.standard_uncertainty_y.array().square();
  Eigen::MatrixXd design(known.points.x.size(), 2);
  design.col(0).setOnes();
  design.col(1) = known.points.x;
  for (int i = 0; i < 200; ++i) {
    const Eigen::VectorXd weights = (uy2 + line[1] * line[1] * ux2).inverse();
    line = fit::fit_linear(design, known.points.y, weights).parameters;
  }
  // The other fixed point: (5.396, -.46345), printed to four and five figures in the literature study of the trap.
  CHECK(std::abs(line[0] - 5.396) < 0.0005);
  CHECK(std::abs(line[1] + 0.46345) < 0.000005);
  const auto good = fit::york_line(known.points);
  REQUIRE(good.usable());
  CHECK(std::abs(good.parameters[0] - line[0]) > 0.08);
}

TEST_CASE("a curve without gradients reaches the same line by central differences") {
  const york_case known = read_york();
  const auto curve = [](double x, const Eigen::VectorXd& p) { return fit::curve_point{p[0] + p[1] * x, p[1]}; };
  const auto line = fit::fit_effective_variance(known.points, curve, Eigen::Vector2d(5.0, -0.4));
  REQUIRE(line.usable());
  // Central differences are right to about ten digits, and the answer to about seven or better.
  CHECK(oracle::digits(line.parameters[0], known.intercept) >= 7.0);
  CHECK(oracle::digits(line.parameters[1], known.slope) >= 7.0);
  CHECK(oracle::digits(std::sqrt(line.covariance_unscaled(1, 1)), known.u_slope) >= 7.0);
}

TEST_CASE("the same data with rounded uncertainties give the answer of orthogonal distance regression") {
  // Oracle: reference/oracles/pearson_york/pearson_rounded.txt, made by another program with another algorithm.
  const auto table = oracle::read_table(oracle::oracle_path("pearson_york/pearson_rounded.txt"));
  const Eigen::MatrixXd rows = oracle::rows_of(table);
  const fit::uncertain_points points{rows.col(0), rows.col(1), rows.col(2), rows.col(3)};
  const auto line = fit::york_line(points);
  REQUIRE(line.usable());
  const double scale = std::sqrt(line.chi2 / static_cast<double>(line.degrees_of_freedom));
  const Eigen::VectorXd u = scale * line.covariance_unscaled.diagonal().cwiseSqrt();
  // That program stops when the sum of squares changes by less than 1e-8 of itself, which leaves the parameters
  // uncertain by about 1e-5 of their standard uncertainties: six digits here.
  constexpr double stopped_early = 6.0;
  CHECK(oracle::digits(line.parameters[0], oracle::value_named(table, "intercept")) >= stopped_early);
  CHECK(oracle::digits(line.parameters[1], oracle::value_named(table, "slope")) >= stopped_early);
  CHECK(oracle::digits(u[0], oracle::value_named(table, "intercept", 2)) >= stopped_early);
  CHECK(oracle::digits(u[1], oracle::value_named(table, "slope", 2)) >= stopped_early);
  // The missing digits are not ours: York's own iteration meets the same line to ten.
  const york_answer york = york_2004(points, -0.5);
  CHECK(oracle::digits(line.parameters[0], york.intercept) >= 10.0);
  CHECK(oracle::digits(line.parameters[1], york.slope) >= 10.0);
}

TEST_CASE("without uncertainty in x the line is the ordinary weighted one") {
  york_case known = read_york();
  known.points.standard_uncertainty_x.setZero();
  Eigen::MatrixXd design(known.points.x.size(), 2);
  design.col(0).setOnes();
  design.col(1) = known.points.x;
  const auto plain =
      fit::fit_linear(design, known.points.y, known.points.standard_uncertainty_y.array().square().inverse());
  const auto line = fit::york_line(known.points);
  REQUIRE(plain.usable());
  REQUIRE(line.usable());
  CHECK(oracle::fewest_digits(line.parameters, plain.parameters) >= 10.0);
  CHECK(oracle::fewest_digits(line.covariance_unscaled.reshaped(), plain.covariance_unscaled.reshaped()) >= 10.0);
}
