// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <cmath>
#include <limits>

#include <Eigen/Core>

#include <rewound/base/error.hpp>
#include <rewound/fit/effective_variance.hpp>
#include <rewound/fit/least_squares.hpp>
#include <rewound/fit/linear.hpp>

// Statements about exits, true by construction of each problem; no outside numbers.

namespace fit = rewound::fit;
using Eigen::MatrixXd;
using Eigen::VectorXd;
using fit::least_squares_status;
using fit::linear_status;

namespace {

constexpr double not_a_number = std::numeric_limits<double>::quiet_NaN();

void check_holds_no_number(const fit::least_squares_result& result) {
  CHECK_FALSE(result.usable());
  CHECK(result.parameters.array().isNaN().all());
  CHECK(result.covariance_unscaled.array().isNaN().all());
  CHECK(std::isnan(result.chi2));
}

void check_holds_no_number(const fit::linear_result& result) {
  CHECK_FALSE(result.usable());
  CHECK(result.parameters.array().isNaN().all());
  CHECK(result.covariance_unscaled.array().isNaN().all());
  CHECK(result.residuals.array().isNaN().all());
  CHECK(std::isnan(result.chi2));
}

const VectorXd times = VectorXd::LinSpaced(8, 0.0, 7.0);

/// p0 exp(-p1 t) against readings that no exponential meets exactly.
VectorXd decay_residuals(const VectorXd& p) {
  const Eigen::ArrayXd noise = (3.0 * times.array()).sin() * 0.05;
  return p[0] * (-p[1] * times.array()).exp() - 2.0 * (-0.3 * times.array()).exp() - noise;
}

MatrixXd decay_jacobian(const VectorXd& p) {
  MatrixXd jacobian(times.size(), 2);
  jacobian.col(0) = (-p[1] * times.array()).exp();
  jacobian.col(1) = -p[0] * times.array() * (-p[1] * times.array()).exp();
  return jacobian;
}

template <class Call>
bool throws_precondition(const Call& call) {
  try {
    call();
  } catch (const rewound::base::error& e) {
    return e.code() == rewound::base::error_code::precondition;
  }
  return false;
}

}  // namespace

TEST_CASE("linear: equal columns, a zero column and a nearly equal column are singular") {
  MatrixXd design = MatrixXd::Ones(6, 2);
  const VectorXd y = VectorXd::LinSpaced(6, 0.0, 1.0);
  CHECK(fit::fit_linear(design, y).status == linear_status::singular);
  check_holds_no_number(fit::fit_linear(design, y));
  design.col(1).setZero();
  CHECK(fit::fit_linear(design, y).status == linear_status::singular);
  design.col(1) = 1e9 * design.col(0) + 1e-9 * y;  // the difference is lost in the rounding of 1e9
  CHECK(fit::fit_linear(design, y).status == linear_status::singular);
}

TEST_CASE("linear: units of the columns do not decide the rank") {
  MatrixXd design(5, 2);
  design.col(0).setConstant(1e-150);
  design.col(1) = VectorXd::LinSpaced(5, 1e120, 5e120);
  const auto result = fit::fit_linear(design, VectorXd::LinSpaced(5, 3.0, 11.0));  // 1 + 2 k for k = 1..5
  REQUIRE(result.usable());
  CHECK(std::abs(result.parameters[0] / 1e150 - 1.0) < 1e-12);
  CHECK(std::abs(result.parameters[1] / 2e-120 - 1.0) < 1e-12);
}

TEST_CASE("linear: too few points and numbers that are not finite have their own names") {
  const auto few = fit::fit_linear(MatrixXd::Ones(1, 2), VectorXd::Ones(1));
  CHECK(few.status == linear_status::too_few_points);
  check_holds_no_number(few);
  VectorXd y = VectorXd::Ones(4);
  y[2] = not_a_number;
  check_holds_no_number(fit::fit_linear(MatrixXd::Ones(4, 1), y));
  CHECK(fit::fit_linear(MatrixXd::Ones(4, 1), y).status == linear_status::not_finite);
  CHECK(fit::fit_linear(MatrixXd::Ones(4, 1), VectorXd::Ones(4), y).status == linear_status::not_finite);
}

TEST_CASE("linear: wrong calls throw") {
  const MatrixXd design = MatrixXd::Ones(3, 1);
  CHECK(throws_precondition([&] { fit::fit_linear(design, VectorXd::Ones(2)); }));
  CHECK(throws_precondition([&] { fit::fit_linear(MatrixXd(3, 0), VectorXd::Ones(3)); }));
  CHECK(throws_precondition([&] { fit::fit_linear(design, VectorXd::Ones(3), VectorXd::Ones(2)); }));
  CHECK(throws_precondition([&] { fit::fit_linear(design, VectorXd::Ones(3), VectorXd::Zero(3)); }));
}

TEST_CASE("nonlinear: the decay used below is fitted well when nothing is wrong") {
  const auto good = fit::fit_least_squares(decay_residuals, decay_jacobian, Eigen::Vector2d(1.0, 1.0));
  CHECK(good.status == least_squares_status::converged);
  CHECK(good.degrees_of_freedom == 6);
}

TEST_CASE("nonlinear: a wrong Jacobian does not converge") {
  const auto wrong_sign = [](const VectorXd& p) { return MatrixXd(-decay_jacobian(p)); };
  const auto result = fit::fit_least_squares(decay_residuals, wrong_sign, Eigen::Vector2d(1.0, 1.0));
  CHECK(result.status == least_squares_status::stalled);
  check_holds_no_number(result);
  CHECK(result.stopped_at.allFinite());
}

TEST_CASE("nonlinear: an undetermined pair of parameters is singular although chi2 is at its minimum") {
  const auto product_only = [](const VectorXd& p) { return decay_residuals(Eigen::Vector2d(p[0] * p[2], p[1])); };
  const auto result = fit::fit_least_squares(product_only, Eigen::Vector3d(1.0, 1.0, 1.0));
  CHECK(result.status == least_squares_status::singular);
  check_holds_no_number(result);
}

TEST_CASE("nonlinear: a parameter without influence is singular") {
  const auto idle = [](const VectorXd& p) { return decay_residuals(p.head(2)); };
  CHECK(fit::fit_least_squares(idle, Eigen::Vector3d(1.0, 1.0, 5.0)).status == least_squares_status::singular);
}

TEST_CASE("nonlinear: limit, too few points and not finite have their own names") {
  fit::least_squares_options hurried;
  hurried.iteration_limit = 1;
  const auto early = fit::fit_least_squares(decay_residuals, decay_jacobian, Eigen::Vector2d(50.0, 5.0), hurried);
  CHECK(early.status == least_squares_status::iteration_limit);
  check_holds_no_number(early);

  const auto one_point = [](const VectorXd& p) { return VectorXd(decay_residuals(p).head(1)); };
  CHECK(fit::fit_least_squares(one_point, Eigen::Vector2d(1.0, 1.0)).status == least_squares_status::too_few_points);

  const Eigen::Vector2d nowhere(not_a_number, 1.0);
  CHECK(fit::fit_least_squares(decay_residuals, nowhere).status == least_squares_status::not_finite);
  const auto broken = [](const VectorXd& p) { return VectorXd(decay_residuals(p) * not_a_number); };
  const auto result = fit::fit_least_squares(broken, Eigen::Vector2d(1.0, 1.0));
  CHECK(result.status == least_squares_status::not_finite);
  check_holds_no_number(result);
}

TEST_CASE("nonlinear: a model that leaves its domain away from the start shortens the step and still converges") {
  const auto bounded = [](const VectorXd& p) {
    return p[1] < 0.05 || p[1] > 1.2 ? VectorXd(VectorXd::Constant(times.size(), not_a_number)) : decay_residuals(p);
  };
  const auto free = fit::fit_least_squares(decay_residuals, decay_jacobian, Eigen::Vector2d(1.0, 1.0));
  const auto result = fit::fit_least_squares(bounded, decay_jacobian, Eigen::Vector2d(1.0, 1.0));
  REQUIRE(free.usable());
  REQUIRE(result.usable());
  CHECK((result.parameters - free.parameters).norm() < 1e-9 * free.parameters.norm());
}

TEST_CASE("nonlinear: as many points as parameters interpolate, with no degree of freedom") {
  const auto two = [](const VectorXd& p) {
    return VectorXd(Eigen::Vector2d(p[0] * std::exp(-p[1]) - 2.0, p[0] * std::exp(-2.0 * p[1]) - 1.0));
  };
  const auto result = fit::fit_least_squares(two, Eigen::Vector2d(1.0, 1.0));  // exact: 4, log 2
  REQUIRE(result.usable());
  CHECK(result.degrees_of_freedom == 0);
  CHECK(std::abs(result.parameters[0] / 4.0 - 1.0) < 1e-9);
  CHECK(std::abs(result.parameters[1] / std::log(2.0) - 1.0) < 1e-9);
}

TEST_CASE("nonlinear: an exact fit and a start at the solution converge") {
  const auto exact = [](const VectorXd& p) {
    return VectorXd(decay_residuals(p) - decay_residuals(Eigen::Vector2d(2.0, 0.3)));
  };
  for (const Eigen::Vector2d& start : {Eigen::Vector2d(1.0, 1.0), Eigen::Vector2d(2.0, 0.3)}) {
    const auto result = fit::fit_least_squares(exact, start);
    CAPTURE(fit::name(result.status));
    REQUIRE(result.usable());
    CHECK(std::abs(result.parameters[0] / 2.0 - 1.0) < 1e-9);
    CHECK(std::abs(result.parameters[1] / 0.3 - 1.0) < 1e-9);
  }
}

TEST_CASE("nonlinear: wrong calls throw") {
  const Eigen::Vector2d start(1.0, 1.0);
  const auto narrow = [](const VectorXd& p) { return MatrixXd(decay_jacobian(p).leftCols(1)); };
  CHECK(throws_precondition([&] { fit::fit_least_squares(decay_residuals, narrow, start); }));
  CHECK(throws_precondition([&] { fit::fit_least_squares(decay_residuals, VectorXd()); }));
  fit::least_squares_options options;
  options.offset_tolerance = not_a_number;
  CHECK(throws_precondition([&] { fit::fit_least_squares(decay_residuals, start, options); }));
}

TEST_CASE("effective variance: a point without uncertainty throws, equal x are singular, too few are named") {
  const VectorXd three = VectorXd::Ones(3);
  fit::uncertain_points points{three, VectorXd::LinSpaced(3, 1.0, 3.0), three, three};
  check_holds_no_number(fit::york_line(points));
  CHECK(fit::york_line(points).status == least_squares_status::singular);
  points.x[1] = not_a_number;
  CHECK(fit::york_line(points).status == least_squares_status::not_finite);
  points.standard_uncertainty_x[2] = points.standard_uncertainty_y[2] = 0.0;
  CHECK(throws_precondition([&] { fit::york_line(points); }));
  const VectorXd one = VectorXd::Ones(1);
  CHECK(fit::york_line({one, one, one, one}).status == least_squares_status::too_few_points);
}
