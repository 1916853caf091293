// SPDX-License-Identifier: MIT
#pragma once

#include <optional>

#include <Eigen/Core>

#include <rewound/fit/curve_family.hpp>
#include <rewound/fit/least_squares.hpp>

// What rewound.fit_draw does to one curve; nothing in here knows Python, so it runs without the interpreter lock.
namespace rewound::python {

/// One curve's readings, all present and above 0.
struct curve_readings {
  Eigen::VectorXd x;        ///< voltage over rated voltage
  Eigen::VectorXd current;  ///< ampere
  /// With weights: of the squared deviation in 1/A^2, above 0. Without: empty.
  Eigen::VectorXd weight;
  Eigen::VectorXd relative_u_x;        ///< without weights; with them empty
  Eigen::VectorXd relative_u_current;  ///< without weights; with them empty

  Eigen::Index voltages() const;  ///< different ones
  bool weighted() const { return weight.size() == x.size() && relative_u_x.size() == 0; }
};

/// A curve and what its readings say about it. All numbers are NaN unless usable().
struct fitted_curve {
  fit::curve_family family = fit::curve_family::proportional;
  fit::least_squares_status status = fit::least_squares_status::too_few_points;
  bool weighted = false;
  Eigen::VectorXd parameters;
  Eigen::MatrixXd covariance;  ///< scaled by chi2 / dof; NaN when dof is 0
  double chi2 = 0.0;           ///< of a robust fit: with Huber's weights
  Eigen::Index degrees_of_freedom = 0;
  /// Of one new reading: absolute (A^2, unit weight) with weights, relative without.
  double reading_variance = 0.0;

  bool usable() const {
    return status == fit::least_squares_status::converged || status == fit::least_squares_status::converged_at_rounding;
  }
};

/// Value and interval at one point.
struct predicted {
  double value;
  double low;
  double high;
};

/// Fits one curve; without a family, the one that choose_family (family_choice.hpp) names.
///
/// @param robust  Huber's k = 1.345 over the fixed scale 1.4826 median |z| of the plain fit
fitted_curve fit_curve(const curve_readings& readings, std::optional<fit::curve_family> family, bool robust);

/// The curve at x with the interval of Student's t at the curve's degrees of freedom; see fit_draw's documentation.
predicted predict(const fitted_curve& curve, double x, double level, bool new_reading);

}  // namespace rewound::python
