// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>
#include <limits>
#include <vector>

#include <Eigen/Core>

#include <rewound/fit/curve_family.hpp>
#include <rewound/fit/curve_readings.hpp>
#include <rewound/fit/detail/picked.hpp>
#include <rewound/fit/detail/plain_curve.hpp>
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
  const Eigen::Index n = readings.x.size();
  if (readings.weighted()) {
    root_.resize(n);
    for (Eigen::Index i = 0; i < n; ++i) root_[i] = std::sqrt(share[i] * readings.weight[i]);
    return;
  }
  in_logs_ = {readings.x, readings.current, readings.relative_u_x, readings.relative_u_current};
  x_.resize(n);
  for (Eigen::Index i = 0; i < n; ++i) {
    in_logs_.x[i] = std::log(in_logs_.x[i]);
    in_logs_.y[i] = std::log(in_logs_.y[i]);
    // A share stretches both uncertainties of its reading.
    in_logs_.standard_uncertainty_x[i] /= std::sqrt(share[i]);
    in_logs_.standard_uncertainty_y[i] /= std::sqrt(share[i]);
    // As the Jacobian meets it: where nothing scatters, rounding is all that is left to settle by.
    x_[i] = std::exp(in_logs_.x[i]);
  }
}

inline Eigen::VectorXd curve_problem::residuals(const Eigen::VectorXd& parameters) const {
  Eigen::VectorXd out(readings_.x.size());
  for (Eigen::Index i = 0; i < out.size(); ++i) {
    if (readings_.weighted()) {
      out[i] = root_[i] * (readings_.current[i] - current_at(family_, parameters, readings_.x[i]).value);
      continue;
    }
    const auto at = plain_point_at(family_, parameters.data(), x_[i], in_logs_.x[i]);
    out[i] = (in_logs_.y[i] - at.log_value) / std::sqrt(effective_variance_at(in_logs_, i, at.exponent));
  }
  return out;
}

inline Eigen::MatrixXd curve_problem::jacobian(const Eigen::VectorXd& parameters) const {
  if (!readings_.weighted()) {
    const auto curve = [this](double z, const Eigen::VectorXd& p) {
      const double x = std::exp(z);
      const auto at = plain_point_at(family_, p.data(), x, z);
      return curve_point_with_gradients{at.log_value, at.exponent, vector_of(family_, at.of_value),
                                        vector_of(family_, at.of_exponent)};
    };
    return effective_jacobian(in_logs_, curve, parameters);
  }
  Eigen::MatrixXd out(readings_.x.size(), parameters.size());
  for (Eigen::Index i = 0; i < out.rows(); ++i) {
    const auto at = current_at(family_, parameters, readings_.x[i]);
    for (Eigen::Index j = 0; j < out.cols(); ++j) out(i, j) = -root_[i] * at.gradient[j];
  }
  return out;
}

/// (J^T J)^-1 of all parameters. One at a bound counts as if it could move both ways, so that an interval does not
/// jump when a bound is reached. One without effect (b and m where b = 0; what has no slope) has zeros.
///
/// @return NaN where the readings do not determine the rest
inline Eigen::MatrixXd unscaled_covariance(const curve_problem& problem, const Eigen::VectorXd& parameters) {
  const Eigen::MatrixXd jacobian = problem.jacobian(parameters);
  const bool flat = parameters.size() > 2 && problem.family() != curve_family::log_quadratic && parameters[1] == 0.0;
  indices kept;
  for (Eigen::Index j = 0; j < jacobian.cols(); ++j)
    if (!(flat && (j == 1 || j == 2)) && column_length(jacobian, j) > 0.0) kept.push_back(j);
  Eigen::MatrixXd out = Eigen::MatrixXd::Zero(jacobian.cols(), jacobian.cols());
  if (kept.empty()) return out;
  const auto solved = fit_linear(picked_columns(jacobian, kept), Eigen::VectorXd::Zero(jacobian.rows()));
  if (!solved.usable())
    return Eigen::MatrixXd::Constant(out.rows(), out.cols(), std::numeric_limits<double>::quiet_NaN());
  for (std::size_t i = 0; i < kept.size(); ++i)
    for (std::size_t j = 0; j < kept.size(); ++j)
      out(kept[i], kept[j]) = solved.covariance_unscaled(static_cast<Eigen::Index>(i), static_cast<Eigen::Index>(j));
  return out;
}

}  // namespace rewound::fit::detail
