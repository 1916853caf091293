// SPDX-License-Identifier: MIT
#pragma once

#include <Eigen/Core>

#include <rewound/fit/effective_variance.hpp>

#include "curve_fit.hpp"

namespace rewound::python {

/// The sum of squares that a curve minimises, with a share (Huber's weight, 1 in a plain fit) of each reading.
///
/// With weights: share w (I - f)^2. Without: share (ln I - ln f)^2 / (uI^2 + (n ux)^2), n the local exponent.
/// The readings must outlive it.
class curve_problem {
 public:
  curve_problem(const curve_readings& readings, fit::curve_family family, const Eigen::VectorXd& share);

  const curve_readings& readings() const { return readings_; }
  fit::curve_family family() const { return family_; }
  const Eigen::VectorXd& share() const { return share_; }

  Eigen::VectorXd residuals(const Eigen::VectorXd& parameters) const;
  Eigen::MatrixXd jacobian(const Eigen::VectorXd& parameters) const;

 private:
  const curve_readings& readings_;
  fit::curve_family family_;
  Eigen::VectorXd share_;
  Eigen::VectorXd root_;           ///< with weights: sqrt(share w)
  fit::uncertain_points in_logs_;  ///< without
};

/// (J^T J)^-1 of all parameters. One at a bound counts as if it could move both ways, so that an interval does not
/// jump when a bound is reached. One without effect (b and m where b = 0; what has no slope) has zeros.
///
/// @return NaN where the readings do not determine the rest
Eigen::MatrixXd unscaled_covariance(const curve_problem& problem, const Eigen::VectorXd& parameters);

}  // namespace rewound::python
