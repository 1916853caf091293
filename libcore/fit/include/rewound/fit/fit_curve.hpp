// SPDX-License-Identifier: MIT
#pragma once

#include <optional>

#include <Eigen/Core>

#include <rewound/base/compiled.hpp>
#include <rewound/fit/curve_family.hpp>
#include <rewound/fit/curve_readings.hpp>
#include <rewound/fit/least_squares.hpp>

namespace rewound::fit {

/// A curve and what its readings say about it. All numbers are NaN unless usable().
struct fitted_curve {
  curve_family family = curve_family::proportional;
  least_squares_status status = least_squares_status::too_few_points;
  bool weighted = false;
  Eigen::VectorXd parameters;
  Eigen::MatrixXd covariance;  ///< see scatter
  double chi2 = 0.0;           ///< of a robust fit: with Huber's weights
  Eigen::Index degrees_of_freedom = 0;
  /// Of one new reading: absolute (A^2, unit weight) with weights, relative without.
  double reading_variance = 0.0;
  double mean_weight = 1.0;       ///< of the readings, with weights
  double interval_degrees = 0.0;  ///< of Student's t in intervals; see scatter

  bool usable() const { return has_converged(status); }
};

/// What the covariance that follows from uncertainties or weights is multiplied by.
enum class scatter {
  /// chi2 / dof, and intervals are of dof degrees of freedom: what is known of errors whose size nobody stated. A curve
  /// with weights and no readings to spare says nothing, one without weights falls back on what is assumed of its
  /// meters,
  /// as `beside_statement`.
  alone,
  /// (4 + chi2) / (4 + dof), at least 1: the meters' stated accuracy is worth four degrees of freedom, and intervals
  /// are
  /// normal, as in a judgement (current_curve.hpp).
  beside_statement,
  /// 1, and intervals are normal: uncertainties and 1 / sqrt(weight) are absolute.
  not_at_all
};

/// What the covariance is multiplied by; NaN where nothing tells.
double variance_scale(bool weighted, double chi2, double dof, scatter counts);

/// Degrees of freedom of the intervals of a curve with `dof` readings to spare; infinite ones are normal intervals.
double interval_degrees(bool weighted, double dof, scatter counts);

/// Value and interval at one point.
struct predicted {
  double value;
  double low;
  double high;
};

/// Fits one curve to the lowest sum of squares; without a family, the one that choose_family (curve_choice.hpp) names.
///
/// With weights sum w (I - f)^2, magnetising with a and b of any sign and 1.2 <= m <= 12, the lowest of all minima.
/// Without: effective variance in log current (effective_variance.hpp), a, b, p, g >= 0 and 2 <= m <= 12.
///
/// @param robust  Huber's k = 1.345 over the fixed scale 1.4826 median |z| of the plain fit
fitted_curve fit_curve(const curve_readings& readings, std::optional<curve_family> family = {}, bool robust = false,
                       scatter counts = scatter::alone);

/// The same from a point beside the lowest minimum, which another search has found; magnetising without weights, or
/// with load.
fitted_curve fit_curve_near(const curve_readings& readings, curve_family family, const Eigen::VectorXd& point,
                            scatter counts = scatter::alone);

/// The same at the lowest minimum itself: only what follows from it is worked out.
fitted_curve fit_curve_at(const curve_readings& readings, curve_family family, const Eigen::VectorXd& minimum,
                          scatter counts = scatter::alone);

/// The curve at x with the interval of Student's t at the curve's degrees of freedom: in log current without weights,
/// symmetric in the current with them.
///
/// @param weight  of the new reading, on a curve with weights; the curve's mean weight where absent
predicted predict(const fitted_curve& curve, double x, double level, bool new_reading,
                  std::optional<double> weight = {});

}  // namespace rewound::fit

#ifndef REWOUND_COMPILED
#include <rewound/fit/impl/fit_curve.hpp>
#endif
