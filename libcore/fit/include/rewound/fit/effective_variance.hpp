// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>
#include <concepts>
#include <string>

#include <Eigen/Core>

#include <rewound/base/expect.hpp>
#include <rewound/fit/least_squares.hpp>
#include <rewound/fit/linear.hpp>

namespace rewound::fit {

/// Readings with independent uncertainties in both coordinates. Uncertainties common to all points (one meter)
/// do not belong here: they do not average, and the caller adds them to the level afterwards.
struct uncertain_points {
  Eigen::VectorXd x;
  Eigen::VectorXd y;
  Eigen::VectorXd standard_uncertainty_x;  ///< in the unit of x, 0 or more
  Eigen::VectorXd standard_uncertainty_y;  ///< in the unit of y, 0 or more; not both 0 at one point
};

/// A curve at one x.
struct curve_point {
  double value = 0.0;  ///< f(x; p)
  double slope = 0.0;  ///< df/dx
};

/// A curve at one x with what its parameters do to it.
struct curve_point_with_gradients {
  double value = 0.0;
  double slope = 0.0;
  Eigen::VectorXd value_gradient;  ///< df/dp_j
  Eigen::VectorXd slope_gradient;  ///< d(df/dx)/dp_j
};

/// A callable (x, parameters) -> curve_point_with_gradients.
template <class Curve>
concept curve_with_gradients = requires(const Curve& curve, double x, const Eigen::VectorXd& parameters) {
  { curve(x, parameters) } -> std::same_as<curve_point_with_gradients>;
};

/// A callable (x, parameters) -> curve_point; its Jacobian is then taken by central differences.
template <class Curve>
concept curve_without_gradients = requires(const Curve& curve, double x, const Eigen::VectorXd& parameters) {
  { curve(x, parameters) } -> std::same_as<curve_point>;
};

namespace detail {

inline void expect_sound(const uncertain_points& points) {
  const Eigen::Index count = points.x.size();
  const bool equal = points.y.size() == count && points.standard_uncertainty_x.size() == count &&
                     points.standard_uncertainty_y.size() == count;
  base::expect(equal, "points", "lists of unequal length", "x, y and both uncertainties of one length");
  for (Eigen::Index i = 0; i < count; ++i) {
    const double ux = points.standard_uncertainty_x[i];
    const double uy = points.standard_uncertainty_y[i];
    base::expect(!(ux < 0.0), "points.standard_uncertainty_x", ux, "0 or more");
    base::expect(!(uy < 0.0), "points.standard_uncertainty_y", uy, "0 or more");
    base::expect(!(ux == 0.0 && uy == 0.0), "points", "no uncertainty at point " + std::to_string(i),
                 "an uncertainty above 0 in x or y");
  }
}

/// uy^2 + slope^2 ux^2 of one point.
inline double effective_variance_at(const uncertain_points& points, Eigen::Index i, double slope) {
  const double from_x = slope * points.standard_uncertainty_x[i];
  const double from_y = points.standard_uncertainty_y[i];
  return from_y * from_y + from_x * from_x;
}

}  // namespace detail

/// (y - f) / sqrt(uy^2 + (df/dx)^2 ux^2) of every point: what fit_effective_variance minimises the squares of.
template <class Curve>
Eigen::VectorXd effective_residuals(const uncertain_points& points, const Curve& curve,
                                    const Eigen::VectorXd& parameters) {
  Eigen::VectorXd residuals(points.x.size());
  for (Eigen::Index i = 0; i < residuals.size(); ++i) {
    const auto at = curve(points.x[i], parameters);
    residuals[i] = (points.y[i] - at.value) / std::sqrt(detail::effective_variance_at(points, i, at.slope));
  }
  return residuals;
}

/// The full derivative of effective_residuals with respect to the parameters.
template <curve_with_gradients Curve>
Eigen::MatrixXd effective_jacobian(const uncertain_points& points, const Curve& curve,
                                   const Eigen::VectorXd& parameters) {
  Eigen::MatrixXd jacobian(points.x.size(), parameters.size());
  for (Eigen::Index i = 0; i < jacobian.rows(); ++i) {
    const curve_point_with_gradients at = curve(points.x[i], parameters);
    const double variance = detail::effective_variance_at(points, i, at.slope);
    const double ux = points.standard_uncertainty_x[i];
    // The weight depends on the parameters too. Leaving out its derivative is the re-weighting error: the
    // iteration then settles on another curve.
    const double weight_share = (points.y[i] - at.value) * at.slope * ux * ux / variance;
    for (Eigen::Index j = 0; j < jacobian.cols(); ++j)
      jacobian(i, j) = -(at.value_gradient[j] + weight_share * at.slope_gradient[j]) / std::sqrt(variance);
  }
  return jacobian;
}

/// Fits y = f(x; p) to points with independent uncertainties in both coordinates.
///
/// Minimises S(p) = sum (y - f)^2 / (uy^2 + (df/dx)^2 ux^2) itself. Alternating between weights and a plain
/// weighted fit is not the same: on York's data it settles at (5.396, -0.4635) instead of (5.4799, -0.4805).
/// Exact for a straight line; for a curve good while it is nearly straight over a few ux.
///
/// covariance_unscaled is (J^T J)^-1 with J the full derivative of the residuals. To first order its rows are the
/// gradients of f at the adjusted points x + (y - f) f' ux^2 / (uy^2 + f'^2 ux^2); for a straight line this is
/// exact, and the covariance is the one of York et al. It takes the uncertainties as stated; multiply by chi2/dof
/// only if they are known up to a common factor.
///
/// @throws base::error (precondition) on unequal lengths, a negative uncertainty or a point without any
/// Source: Orear, Am. J. Phys. 50 (1982) 912-916 (objective); York, Evensen, Lopez Martinez, De Basabe Delgado,
/// Am. J. Phys. 72 (2004) 367-375 (line and covariance).
template <curve_with_gradients Curve>
least_squares_result fit_effective_variance(const uncertain_points& points, const Curve& curve,
                                            const Eigen::VectorXd& start, const least_squares_options& options = {}) {
  detail::expect_sound(points);
  const auto residuals = [&](const Eigen::VectorXd& parameters) {
    return effective_residuals(points, curve, parameters);
  };
  const auto jacobian = [&](const Eigen::VectorXd& parameters) {
    return effective_jacobian(points, curve, parameters);
  };
  return fit_least_squares(residuals, jacobian, start, options);
}

/// The same for a curve without gradients, by central differences.
template <curve_without_gradients Curve>
least_squares_result fit_effective_variance(const uncertain_points& points, const Curve& curve,
                                            const Eigen::VectorXd& start, const least_squares_options& options = {}) {
  detail::expect_sound(points);
  const auto residuals = [&](const Eigen::VectorXd& parameters) {
    return effective_residuals(points, curve, parameters);
  };
  return fit_least_squares(residuals, start, options);
}

/// York's straight line y = a + b x; parameters are (a, b).
///
/// Starts from the unweighted line of y on x. Same exits, covariance and errors as fit_effective_variance.
/// Points that all share one x give singular, also when their ux would allow a vertical line.
/// Source: York et al. 2004 (above); oracle: Pearson's data with York's weights.
inline least_squares_result york_line(const uncertain_points& points, const least_squares_options& options = {}) {
  detail::expect_sound(points);
  Eigen::MatrixXd design(points.x.size(), 2);
  design.col(0).setOnes();
  design.col(1) = points.x;
  const linear_result plain = fit_linear(design, points.y);
  const auto line = [](double x, const Eigen::VectorXd& parameters) {
    return curve_point_with_gradients{parameters[0] + parameters[1] * x, parameters[1], Eigen::Vector2d(1.0, x),
                                      Eigen::Vector2d(0.0, 1.0)};
  };
  if (plain.status == linear_status::singular) {
    return detail::unusable_fit(least_squares_status::singular, plain.parameters);
  }
  if (plain.status == linear_status::too_few_points) {
    return detail::unusable_fit(least_squares_status::too_few_points, plain.parameters);
  }
  return fit_effective_variance(points, line, plain.parameters, options);
}

}  // namespace rewound::fit
