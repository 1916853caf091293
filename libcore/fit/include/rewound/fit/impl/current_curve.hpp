// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cmath>
#include <optional>
#include <utility>
#include <vector>

#include <rewound/base/compiled.hpp>
#include <rewound/fit/current_curve.hpp>
#include <rewound/fit/curve_family.hpp>
#include <rewound/fit/curve_reading.hpp>
#include <rewound/fit/dense.hpp>
#include <rewound/fit/detail/free_parameters.hpp>
#include <rewound/fit/effective_variance.hpp>
#include <rewound/measurement/uncertain.hpp>

namespace rewound::fit {

namespace detail {

/// The accuracy statement of the meters counts as this many degrees of freedom when readings scatter more than it
/// allows (project's choice, no source): two or three readings cannot overturn it.
inline constexpr double accuracy_degrees_of_freedom = 4.0;

/// Spread of exponents assumed where all readings stand at one voltage (common practice, no source: fans lie
/// between about -1 and 2 round 1).
inline constexpr double assumed_exponent_spread = 0.6;

/// How much the exponent of a running machine may be another beyond its readings than within (common practice, no
/// source: saturation above, slip below).
inline constexpr double exponent_change_beyond = 0.3;

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

/// effective_residuals of a family in logarithms, by its free parameters; what does not change from one step of the
/// search to the next is found once.
class family_residuals {
 public:
  family_residuals(curve_family family, uncertain_points points) : family_(family), points_(std::move(points)) {
    expect_sound(points_);
    for (Eigen::Index i = 0; i < points_.x.size(); ++i) x_.push_back(std::exp(points_.x[i]));
  }

  Eigen::VectorXd operator()(const Eigen::VectorXd& free) const {
    const Eigen::VectorXd parameters = natural_parameters(family_, free);
    Eigen::VectorXd out(points_.x.size());
    for (Eigen::Index i = 0; i < out.size(); ++i) {
      const auto at = evaluate(family_, parameters, x_[static_cast<std::size_t>(i)], false);
      out[i] = (points_.y[i] - at.log_value) / std::sqrt(effective_variance_at(points_, i, at.exponent));
    }
    return out;
  }

 private:
  curve_family family_;
  uncertain_points points_;
  std::vector<double> x_;
};

inline void check_reading(const curve_reading& reading) {
  base::expect(reading.x > 0.0 && std::isfinite(reading.x), "x", reading.x, "a finite number above 0");
  base::expect(reading.current > 0.0 && std::isfinite(reading.current), "current", reading.current,
               "a finite number above 0");
  base::expect(reading.relative_u_current > 0.0, "relative_u_current", reading.relative_u_current, "a number above 0");
  base::expect(reading.relative_u_x >= 0.0, "relative_u_x", reading.relative_u_x, "a number not below 0");
}

}  // namespace detail

REWOUND_INLINE std::optional<current_curve> fit_current_curve(curve_family family,
                                                              const std::vector<curve_reading>& readings) {
  for (const auto& reading : readings) detail::check_reading(reading);
  if (readings.size() < static_cast<std::size_t>(parameter_count(family))) return std::nullopt;
  const auto found = fit_least_squares(detail::family_residuals(family, detail::log_points(readings)),
                                       detail::free_start(family, readings));
  if (!found.usable()) return std::nullopt;
  const Eigen::VectorXd stretch = detail::natural_slope(family, found.parameters);
  const int dof = static_cast<int>(found.degrees_of_freedom);
  const double prior = detail::accuracy_degrees_of_freedom;
  const double scale = std::sqrt(std::max(1.0, (prior + found.chi2) / (prior + dof)));
  const auto [low, high] =
      std::minmax_element(readings.begin(), readings.end(), [](const auto& a, const auto& b) { return a.x < b.x; });
  Eigen::MatrixXd covariance = found.covariance_unscaled;
  for (Eigen::Index i = 0; i < covariance.rows(); ++i)
    for (Eigen::Index j = 0; j < covariance.cols(); ++j) covariance(i, j) *= scale * scale * stretch[i] * stretch[j];
  return current_curve{
      family, detail::natural_parameters(family, found.parameters), covariance, found.chi2, dof, scale, low->x,
      high->x};
}

REWOUND_INLINE measurement::uncertain<double> log_current(const current_curve& curve, double x) {
  const auto point = evaluate(curve.family, curve.parameters, x);
  double variance = dot(point.log_gradient, applied(curve.covariance, point.log_gradient));
  const double spread =
      curve.family == curve_family::proportional ? detail::assumed_exponent_spread : detail::exponent_change_beyond;
  const double away = std::max({0.0, std::log(x / curve.x_high), std::log(curve.x_low / x)});
  variance += spread * spread * away * away;
  return {point.log_value, std::sqrt(std::max(0.0, variance))};
}

REWOUND_INLINE std::optional<measurement::uncertain<double>> exponent(const current_curve& curve, double x) {
  if (curve.family == curve_family::proportional) return std::nullopt;
  // d exponent / d parameter by central differences of the log gradient in ln x: the mixed derivative is symmetric.
  const double step = 1e-4;
  const Eigen::VectorXd gradient = (evaluate(curve.family, curve.parameters, x * std::exp(step)).log_gradient -
                                    evaluate(curve.family, curve.parameters, x * std::exp(-step)).log_gradient) /
                                   (2.0 * step);
  const double variance = dot(gradient, applied(curve.covariance, gradient));
  return measurement::uncertain<double>{evaluate(curve.family, curve.parameters, x).exponent,
                                        std::sqrt(std::max(0.0, variance))};
}

}  // namespace rewound::fit
