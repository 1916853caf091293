// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>
#include <limits>
#include <vector>

#include <Eigen/Core>

#include <rewound/fit/curve_family.hpp>
#include <rewound/fit/curve_readings.hpp>
#include <rewound/fit/effective_variance.hpp>
#include <rewound/fit/linear.hpp>

namespace rewound::fit::detail {

/// The sum of squares that a curve minimises, with a share (Huber's weight, 1 in a plain fit) of each reading.
///
/// With weights: share w (I - f)^2. Without: share (ln I - ln f)^2 / (uI^2 + (n ux)^2), n the local exponent.
/// The readings must outlive it.
class curve_problem {
 public:
  curve_problem(const curve_readings& readings, curve_family family, const Eigen::VectorXd& share);

  const curve_readings& readings() const { return readings_; }
  curve_family family() const { return family_; }
  const Eigen::VectorXd& share() const { return share_; }

  Eigen::VectorXd residuals(const Eigen::VectorXd& parameters) const;
  Eigen::MatrixXd jacobian(const Eigen::VectorXd& parameters) const;

 private:
  const curve_readings& readings_;
  curve_family family_;
  Eigen::VectorXd share_;
  Eigen::VectorXd root_;      ///< with weights: sqrt(share w)
  Eigen::VectorXd x_;         ///< without
  uncertain_points in_logs_;  ///< without
};

inline curve_problem::curve_problem(const curve_readings& readings, curve_family family, const Eigen::VectorXd& share)
    : readings_(readings), family_(family), share_(share) {
  if (readings.weighted()) {
    root_ = (share.array() * readings.weight.array()).sqrt();
    return;
  }
  // A share stretches both uncertainties of its reading.
  const Eigen::ArrayXd stretch = share.array().rsqrt();
  in_logs_ = {readings.x.array().log(), readings.current.array().log(), readings.relative_u_x.array() * stretch,
              readings.relative_u_current.array() * stretch};
  // As the Jacobian meets it: where nothing scatters, rounding is all that is left to settle by.
  x_ = in_logs_.x.unaryExpr([](double z) { return std::exp(z); });
}

inline Eigen::VectorXd curve_problem::residuals(const Eigen::VectorXd& parameters) const {
  Eigen::VectorXd out(readings_.x.size());
  for (Eigen::Index i = 0; i < out.size(); ++i) {
    if (readings_.weighted()) {
      out[i] = root_[i] * (readings_.current[i] - current_at(family_, parameters, readings_.x[i]).value);
      continue;
    }
    const auto at = evaluate(family_, parameters, x_[i], false);
    out[i] = (in_logs_.y[i] - at.log_value) / std::sqrt(effective_variance_at(in_logs_, i, at.exponent));
  }
  return out;
}

inline Eigen::MatrixXd curve_problem::jacobian(const Eigen::VectorXd& parameters) const {
  if (!readings_.weighted()) {
    const auto curve = [this](double z, const Eigen::VectorXd& p) {
      const double x = std::exp(z);
      const auto at = evaluate(family_, p, x);
      return curve_point_with_gradients{at.log_value, at.exponent, at.log_gradient,
                                        exponent_gradient(family_, p, x, at.exponent)};
    };
    return effective_jacobian(in_logs_, curve, parameters);
  }
  Eigen::MatrixXd out(readings_.x.size(), parameters.size());
  for (Eigen::Index i = 0; i < out.rows(); ++i)
    out.row(i) = -root_[i] * current_at(family_, parameters, readings_.x[i]).gradient.transpose();
  return out;
}

/// (J^T J)^-1 of all parameters. One at a bound counts as if it could move both ways, so that an interval does not
/// jump when a bound is reached. One without effect (b and m where b = 0; what has no slope) has zeros.
///
/// @return NaN where the readings do not determine the rest
inline Eigen::MatrixXd unscaled_covariance(const curve_problem& problem, const Eigen::VectorXd& parameters) {
  const Eigen::MatrixXd jacobian = problem.jacobian(parameters);
  const bool flat = parameters.size() > 2 && problem.family() != curve_family::log_quadratic && parameters[1] == 0.0;
  std::vector<Eigen::Index> kept;
  for (Eigen::Index j = 0; j < jacobian.cols(); ++j)
    if (!(flat && (j == 1 || j == 2)) && jacobian.col(j).cwiseAbs().maxCoeff() > 0.0) kept.push_back(j);
  Eigen::MatrixXd out = Eigen::MatrixXd::Zero(jacobian.cols(), jacobian.cols());
  if (kept.empty()) return out;
  const auto solved = fit_linear(jacobian(Eigen::all, kept), Eigen::VectorXd::Zero(jacobian.rows()));
  if (!solved.usable())
    return Eigen::MatrixXd::Constant(out.rows(), out.cols(), std::numeric_limits<double>::quiet_NaN());
  out(kept, kept) = solved.covariance_unscaled;
  return out;
}

}  // namespace rewound::fit::detail
