// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cmath>
#include <limits>
#include <optional>
#include <vector>

#include <rewound/base/compiled.hpp>
#include <rewound/fit/current_curve.hpp>
#include <rewound/fit/curve_family.hpp>
#include <rewound/fit/curve_reading.hpp>
#include <rewound/fit/dense.hpp>
#include <rewound/fit/detail/curve_descent.hpp>
#include <rewound/fit/detail/fit_family.hpp>
#include <rewound/fit/detail/free_parameters.hpp>
#include <rewound/fit/detail/scaled_qr.hpp>
#include <rewound/fit/least_squares.hpp>
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

/// The residuals of a family by its free parameters, for the search that takes its time.
class family_problem {
 public:
  family_problem(curve_family family, const std::vector<plain_reading>& readings)
      : family_(family), readings_(readings) {}

  Eigen::VectorXd residuals(const Eigen::VectorXd& free) const {
    const auto curve = natural_of(family_, array_of(free));
    Eigen::VectorXd out(static_cast<Eigen::Index>(readings_.size()));
    for (Eigen::Index i = 0; i < out.size(); ++i)
      out[i] = residual_at(family_, curve, readings_[static_cast<std::size_t>(i)]).value;
    return out;
  }

  Eigen::MatrixXd jacobian(const Eigen::VectorXd& free) const {
    const auto curve = natural_of(family_, array_of(free));
    Eigen::MatrixXd out(static_cast<Eigen::Index>(readings_.size()), free.size());
    for (Eigen::Index i = 0; i < out.rows(); ++i) {
      const auto at = residual_at(family_, curve, readings_[static_cast<std::size_t>(i)]);
      for (Eigen::Index j = 0; j < out.cols(); ++j) out(i, j) = at.gradient[static_cast<std::size_t>(j)];
    }
    return out;
  }

 private:
  curve_family family_;
  const std::vector<plain_reading>& readings_;
};

/// Where a family's sum of squares is lowest next to its start.
struct lowest_point {
  parameter_array free;
  Eigen::MatrixXd covariance;  ///< of the free parameters, (J^T J)^-1
  double chi2;
};

/// How many times the chi2 of use a quick search may stand at to be carried on (project's choice): chi2 has fallen most
/// of its way by then.
inline constexpr double still_hopeful = 2.0;

inline std::optional<lowest_point> lowest_point_of(curve_family family, const std::vector<curve_reading>& readings,
                                                   double chi2_of_use) {
  const auto rows = plain_readings_of(readings);
  const auto start = free_start(family, readings);
  const family_problem problem(family, rows);
  auto free = start;
  curve_descent quick(family, rows);
  const auto end = quick.run(free);
  if (end == descent_end::run_off) return std::nullopt;
  if (end == descent_end::arrived) {
    const scaled_qr factors(problem.jacobian(vector_of(family, free)));
    if (!factors.full_rank()) return std::nullopt;
    return lowest_point{free, factors.inverse_gram(), quick.chi2()};
  }
  if (quick.chi2() > still_hopeful * chi2_of_use) return std::nullopt;
  const auto found =
      fit_least_squares([&](const Eigen::VectorXd& p) { return problem.residuals(p); },
                        [&](const Eigen::VectorXd& p) { return problem.jacobian(p); }, vector_of(family, start));
  if (!found.usable()) return std::nullopt;
  return lowest_point{array_of(found.parameters), found.covariance_unscaled, found.chi2};
}

inline void check_reading(const curve_reading& reading) {
  base::expect(reading.x > 0.0 && std::isfinite(reading.x), "x", reading.x, "a finite number above 0");
  base::expect(reading.current > 0.0 && std::isfinite(reading.current), "current", reading.current,
               "a finite number above 0");
  base::expect(reading.relative_u_current > 0.0, "relative_u_current", reading.relative_u_current, "a number above 0");
  base::expect(reading.relative_u_x >= 0.0, "relative_u_x", reading.relative_u_x, "a number not below 0");
}

REWOUND_INLINE std::optional<current_curve> fit_family(curve_family family, const std::vector<curve_reading>& readings,
                                                       double chi2_of_use) {
  for (const auto& reading : readings) check_reading(reading);
  if (readings.size() < static_cast<std::size_t>(parameter_count(family))) return std::nullopt;
  const auto found = lowest_point_of(family, readings, chi2_of_use);
  if (!found) return std::nullopt;
  const auto natural = natural_of(family, found->free);
  const int dof = static_cast<int>(readings.size()) - parameter_count(family);
  const double prior = accuracy_degrees_of_freedom;
  const double scale = std::sqrt(std::max(1.0, (prior + found->chi2) / (prior + dof)));
  const auto [low, high] =
      std::minmax_element(readings.begin(), readings.end(), [](const auto& a, const auto& b) { return a.x < b.x; });
  const Eigen::VectorXd stretch = scale * vector_of(family, natural.slope);
  Eigen::MatrixXd covariance = found->covariance;
  for (Eigen::Index i = 0; i < covariance.rows(); ++i)
    for (Eigen::Index j = 0; j < covariance.cols(); ++j) covariance(i, j) *= stretch[i] * stretch[j];
  return current_curve{family, vector_of(family, natural.parameters), covariance, found->chi2, dof, scale, low->x,
                       high->x};
}

}  // namespace detail

REWOUND_INLINE std::optional<current_curve> fit_current_curve(curve_family family,
                                                              const std::vector<curve_reading>& readings) {
  return detail::fit_family(family, readings, std::numeric_limits<double>::infinity());
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
  const auto at = detail::plain_point_at(curve.family, curve.parameters.data(), x, std::log(x));
  const Eigen::VectorXd gradient = detail::vector_of(curve.family, at.of_exponent);
  const double variance = dot(gradient, applied(curve.covariance, gradient));
  return measurement::uncertain<double>{at.exponent, std::sqrt(std::max(0.0, variance))};
}

}  // namespace rewound::fit
