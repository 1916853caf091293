// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cmath>
#include <optional>
#include <vector>

#include <rewound/fit/curve_family.hpp>
#include <rewound/fit/detail/normal_coverage.hpp>
#include <rewound/fit/effective_variance.hpp>
#include <rewound/measurement/uncertain.hpp>

namespace rewound::fit {

/// One reading for a curve of current against voltage. Only errors that are independent from reading to reading
/// belong here; a meter's gain error moves the whole curve and is added to its level afterwards.
struct curve_reading {
  double x;        ///< voltage over rated voltage, above 0
  double current;  ///< above 0, in any one unit
  double relative_u_x;
  double relative_u_current;
};

/// A fitted curve. Only readings within [x_low, x_high] stand behind it: beyond, it is an extrapolation.
struct current_curve {
  curve_family family;
  Eigen::VectorXd parameters;
  Eigen::MatrixXd covariance;  ///< of the parameters, scale included
  double chi2;                 ///< weighted sum of squares in log current
  int degrees_of_freedom;
  double scale;  ///< factor by which the readings scatter more than their meters explain, at least 1
  double x_low;
  double x_high;
};

namespace detail {

/// The accuracy statement of the meters counts as this many degrees of freedom when readings scatter more than it
/// allows (project's choice, no source): two or three readings cannot overturn it.
inline constexpr double accuracy_degrees_of_freedom = 4.0;

/// Spread of exponents assumed where all readings stand at one voltage (common practice, no source: fans lie
/// between about -1 and 2 round 1, see reference/limits/practice.table, exponent_spread).
inline constexpr double assumed_exponent_spread = 0.6;

inline Eigen::VectorXd curve_start(curve_family family, const std::vector<curve_reading>& readings) {
  double mean_z = 0.0;
  double mean_log = 0.0;
  for (const auto& reading : readings) {
    mean_z += std::log(reading.x) / static_cast<double>(readings.size());
    mean_log += std::log(reading.current) / static_cast<double>(readings.size());
  }
  if (family == curve_family::proportional) return Eigen::VectorXd::Constant(1, std::exp(mean_log - mean_z));
  double square = 0.0;
  double product = 0.0;
  for (const auto& reading : readings) {
    const double z = std::log(reading.x) - mean_z;
    square += z * z;
    product += z * std::log(reading.current);
  }
  const double n = square > 0.0 ? product / square : 1.0;
  Eigen::VectorXd start = Eigen::VectorXd::Zero(parameter_count(family));
  start[0] = family == curve_family::log_quadratic ? mean_log - n * mean_z : std::exp(mean_log - n * mean_z);
  start[1] = n;
  return start;
}

inline uncertain_points log_points(const std::vector<curve_reading>& readings) {
  const auto n = static_cast<Eigen::Index>(readings.size());
  uncertain_points out{Eigen::VectorXd(n), Eigen::VectorXd(n), Eigen::VectorXd(n), Eigen::VectorXd(n)};
  for (Eigen::Index i = 0; i < n; ++i) {
    const auto& reading = readings[static_cast<std::size_t>(i)];
    out.x[i] = std::log(reading.x);
    out.y[i] = std::log(reading.current);
    out.standard_uncertainty_x[i] = reading.relative_u_x;
    out.standard_uncertainty_y[i] = reading.relative_u_current;
  }
  return out;
}

inline void check_reading(const curve_reading& reading) {
  base::expect(reading.x > 0.0 && std::isfinite(reading.x), "x", reading.x, "a finite number above 0");
  base::expect(reading.current > 0.0 && std::isfinite(reading.current), "current", reading.current,
               "a finite number above 0");
  base::expect(reading.relative_u_current > 0.0, "relative_u_current", reading.relative_u_current, "a number above 0");
  base::expect(reading.relative_u_x >= 0.0, "relative_u_x", reading.relative_u_x, "a number not below 0");
}

}  // namespace detail

/// Fits one family in log current against log voltage, with errors in both coordinates (see effective_variance.hpp).
///
/// @return nothing when the readings do not determine the family's parameters
/// @throws base::error (precondition) for a reading or an uncertainty out of range
inline std::optional<current_curve> fit_current_curve(curve_family family, const std::vector<curve_reading>& readings) {
  const int count = parameter_count(family);
  for (const auto& reading : readings) detail::check_reading(reading);
  if (readings.size() < static_cast<std::size_t>(count)) return std::nullopt;
  const auto curve = [family](double z, const Eigen::VectorXd& parameters) {
    const auto point = evaluate(family, parameters, std::exp(z));
    return curve_point{point.log_value, point.exponent};
  };
  const auto found = fit_effective_variance(detail::log_points(readings), curve, detail::curve_start(family, readings));
  if (!found.usable()) return std::nullopt;
  const int dof = static_cast<int>(found.degrees_of_freedom);
  const double prior = detail::accuracy_degrees_of_freedom;
  const double scale = std::sqrt(std::max(1.0, (prior + found.chi2) / (prior + dof)));
  const auto [low, high] = std::minmax_element(readings.begin(), readings.end(),
                                               [](const auto& a, const auto& b) { return a.x < b.x; });
  return current_curve{family, found.parameters, found.covariance_unscaled * (scale * scale),
                       found.chi2, dof, scale, low->x, high->x};
}

/// Fits the richest of the two families proportional and power that the readings carry: a power law needs
/// readings at two voltages at least.
inline std::optional<current_curve> fit_current_curve(const std::vector<curve_reading>& readings) {
  if (readings.empty()) return std::nullopt;
  const auto [low, high] = std::minmax_element(readings.begin(), readings.end(),
                                               [](const auto& a, const auto& b) { return a.x < b.x; });
  // Two voltages closer than their own uncertainty hold no exponent.
  const bool apart = std::log(high->x / low->x) > 3.0 * std::hypot(high->relative_u_x, low->relative_u_x);
  if (apart) {
    if (auto curve = fit_current_curve(curve_family::power, readings)) return curve;
  }
  return fit_current_curve(curve_family::proportional, readings);
}

/// ln I of the curve at x, with its standard uncertainty: readings only, no common meter errors.
///
/// A curve of one voltage assumes current in proportion to voltage; away from that voltage its uncertainty
/// takes in the spread of exponents that fans show.
inline measurement::uncertain<double> log_current(const current_curve& curve, double x) {
  const auto point = evaluate(curve.family, curve.parameters, x);
  double variance = point.log_gradient.dot(curve.covariance * point.log_gradient);
  if (curve.family == curve_family::proportional) {
    const double away = std::max({0.0, std::log(x / curve.x_high), std::log(curve.x_low / x)});
    variance += detail::assumed_exponent_spread * detail::assumed_exponent_spread * away * away;
  }
  return {point.log_value, std::sqrt(std::max(0.0, variance))};
}

/// Local exponent d ln I / d ln x at x with its standard uncertainty; absent for a proportional curve, whose
/// exponent is assumed and not measured.
inline std::optional<measurement::uncertain<double>> exponent(const current_curve& curve, double x) {
  if (curve.family == curve_family::proportional) return std::nullopt;
  // d exponent / d parameter by central differences of the log gradient in ln x: the mixed derivative is symmetric.
  const double step = 1e-4;
  const Eigen::VectorXd gradient =
      (evaluate(curve.family, curve.parameters, x * std::exp(step)).log_gradient -
       evaluate(curve.family, curve.parameters, x * std::exp(-step)).log_gradient) / (2.0 * step);
  const double variance = gradient.dot(curve.covariance * gradient);
  return measurement::uncertain<double>{evaluate(curve.family, curve.parameters, x).exponent,
                                        std::sqrt(std::max(0.0, variance))};
}

/// Interval for the current at x: of the curve itself, or of one new reading with the given relative uncertainty.
///
/// @param level               coverage, such as 0.95
/// @param new_reading_u       relative standard uncertainty of the new reading; 0 gives the curve's own interval
inline measurement::interval<double> current_interval(const current_curve& curve, double x, double level,
                                                      double new_reading_u = 0.0) {
  const auto log = log_current(curve, x);
  const double half = detail::normal_coverage_factor(level) *
                      std::hypot(log.standard_uncertainty, new_reading_u * (new_reading_u > 0.0 ? curve.scale : 0.0));
  return {std::exp(log.value - half), std::exp(log.value + half)};
}

}  // namespace rewound::fit
