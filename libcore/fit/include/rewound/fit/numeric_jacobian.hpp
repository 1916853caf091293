// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>
#include <concepts>
#include <limits>

#include <Eigen/Core>

namespace rewound::fit {

/// A callable that turns parameters into residuals (already divided by their standard uncertainties).
template <class Residuals>
concept residual_function = requires(const Residuals& residuals, const Eigen::VectorXd& parameters) {
  { residuals(parameters) } -> std::convertible_to<Eigen::VectorXd>;
};

/// Central-difference Jacobian d r_i / d p_j of a residual function.
///
/// The step is cbrt(epsilon) of the parameter, where truncation and rounding balance; about ten digits are
/// right for a smooth function. A parameter of exactly 0 has no size of its own, so `size_at_zero` stands in.
/// An entry is not finite when the function is not finite one step away; nothing is thrown.
///
/// @param size_at_zero  a typical size of a parameter that is 0 now
/// Source: Dennis, Schnabel, "Numerical Methods for Unconstrained Optimization" (SIAM 1996), section 5.4.
template <residual_function Residuals>
Eigen::MatrixXd numeric_jacobian(const Residuals& residuals, const Eigen::VectorXd& parameters,
                                 double size_at_zero = 1.0) {
  const double relative_step = std::cbrt(std::numeric_limits<double>::epsilon());
  Eigen::MatrixXd jacobian;
  Eigen::VectorXd moved = parameters;
  for (Eigen::Index column = 0; column < parameters.size(); ++column) {
    const double centre = parameters[column];
    const double size = centre != 0.0 ? std::abs(centre) : std::abs(size_at_zero);
    const double upper = centre + relative_step * size;
    const double lower = centre - relative_step * size;
    moved[column] = upper;
    const Eigen::VectorXd above = residuals(moved);
    moved[column] = lower;
    const Eigen::VectorXd below = residuals(moved);
    moved[column] = centre;
    if (column == 0) jacobian.resize(above.size(), parameters.size());
    // Dividing by the points as rounded, not by twice the nominal step, removes the rounding of the step.
    jacobian.col(column) = (above - below) / (upper - lower);
  }
  return jacobian;
}

}  // namespace rewound::fit
