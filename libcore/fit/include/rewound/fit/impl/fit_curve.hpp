// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cmath>
#include <limits>
#include <utility>
#include <vector>

#include <rewound/base/compiled.hpp>
#include <rewound/fit/curve_choice.hpp>
#include <rewound/fit/dense.hpp>
#include <rewound/fit/detail/curve_search.hpp>
#include <rewound/fit/fit_curve.hpp>
#include <rewound/fit/impl/current_curve.hpp>
#include <rewound/measurement/distribution.hpp>

namespace rewound::fit {

namespace detail {

inline constexpr double not_a_number = std::numeric_limits<double>::quiet_NaN();

inline double median(std::vector<double> values) {
  std::sort(values.begin(), values.end());
  const std::size_t half = values.size() / 2;
  return values.size() % 2 == 1 ? values[half] : 0.5 * (values[half - 1] + values[half]);
}

inline Eigen::VectorXd huber_shares(const Eigen::VectorXd& deviations, double scale) {
  constexpr double k = 1.345;  // 95 % efficient on normal errors (Huber, Robust Statistics, 1981)
  Eigen::VectorXd out = deviations;
  for (double& each : out)
    each = std::min(k * scale / std::max(std::abs(each), std::numeric_limits<double>::min()), 1.0);
  return out;
}

/// A fit and the shares of the readings in it.
struct shared_fit {
  search_result found;
  Eigen::VectorXd share;
};

/// Whether no element lies further from the other's than such a share of itself.
inline bool near_all(const Eigen::VectorXd& a, const Eigen::VectorXd& b, double share) {
  for (Eigen::Index i = 0; i < a.size(); ++i)
    if (!(std::abs(a[i] - b[i]) <= share * std::abs(a[i]))) return false;
  return true;
}

inline double farthest_apart(const Eigen::VectorXd& a, const Eigen::VectorXd& b) {
  double out = 0.0;
  for (Eigen::Index i = 0; i < a.size(); ++i)
    if (const double apart = std::abs(a[i] - b[i]); !(apart <= out)) out = std::isnan(out) ? out : apart;
  return out;
}

/// Iterates Huber's weights from the plain fit until no parameter moves by more than 1e-10 of itself, or none of the
/// deviations by more than 1e-10 of the scale: a parameter that hardly matters may go on moving.
inline shared_fit fit_robust(const curve_readings& in, curve_family family, const search_result& plain) {
  constexpr int iteration_limit = 1000;
  constexpr double enough = 1e-10;
  const Eigen::VectorXd ones = Eigen::VectorXd::Ones(in.x.size());
  const curve_problem unshared(in, family, ones);
  Eigen::VectorXd deviations = unshared.residuals(plain.parameters);
  const Eigen::VectorXd sizes = deviations.cwiseAbs();
  const double scale = 1.4826 * median({sizes.begin(), sizes.end()});
  // Without a scale, or without readings to spare, nothing tells an outlier from the rest.
  if (!(scale > 0.0) || in.x.size() <= parameter_count(family)) return {plain, ones};
  shared_fit now{plain, ones};
  for (int i = 0; i < iteration_limit; ++i) {
    const Eigen::VectorXd share = huber_shares(deviations, scale);
    auto next = search_curve_from(curve_problem(in, family, share), now.found.parameters);
    if (!next.usable()) return {next, share};
    const Eigen::VectorXd there = unshared.residuals(next.parameters);
    const bool still =
        near_all(next.parameters, now.found.parameters, enough) || farthest_apart(there, deviations) <= enough * scale;
    deviations = there;
    now = {std::move(next), share};
    if (still) return now;
  }
  now.found.status = least_squares_status::iteration_limit;
  return now;
}

/// Mean relative variance that the meters give a reading of this curve; with weights that of unit weight, 1.
inline double unit_variance(const curve_readings& in, curve_family family, const Eigen::VectorXd& parameters) {
  if (in.weighted()) return 1.0;
  double sum = 0.0;
  for (Eigen::Index i = 0; i < in.x.size(); ++i) {
    const double exponent = evaluate(family, parameters, in.x[i]).exponent;
    sum += std::pow(in.relative_u_current[i], 2) + std::pow(exponent * in.relative_u_x[i], 2);
  }
  return sum / static_cast<double>(in.x.size());
}

inline fitted_curve unusable_curve(const curve_readings& in, curve_family family, least_squares_status status) {
  const Eigen::Index count = parameter_count(family);
  return {.family = family,
          .status = status,
          .weighted = in.weighted(),
          .parameters = Eigen::VectorXd::Constant(count, not_a_number),
          .covariance = Eigen::MatrixXd::Constant(count, count, not_a_number),
          .chi2 = not_a_number,
          .degrees_of_freedom = std::max<Eigen::Index>(0, in.x.size() - count),
          .reading_variance = not_a_number,
          .mean_weight = in.weighted() && in.weight.size() > 0 ? in.weight.mean() : 1.0};
}

inline double variance_scale(const fitted_curve& curve, scatter counts) {
  return fit::variance_scale(curve.weighted, curve.chi2, static_cast<double>(curve.degrees_of_freedom), counts);
}

/// A search's end with what follows from it.
inline fitted_curve finished_curve(const curve_readings& readings, curve_family family, const shared_fit& fitted,
                                   scatter counts) {
  const auto& found = fitted.found;
  fitted_curve out = unusable_curve(readings, family, found.status);
  if (!found.usable()) return out;
  out.parameters = found.parameters;
  out.chi2 = found.chi2;
  const double scale = variance_scale(out, counts);
  out.interval_degrees = interval_degrees(out.weighted, static_cast<double>(out.degrees_of_freedom), counts);
  if (std::isnan(scale)) return out;
  out.covariance = scale * unscaled_covariance(curve_problem(readings, family, fitted.share), found.parameters);
  out.reading_variance = scale * unit_variance(readings, family, found.parameters);
  return out;
}

}  // namespace detail

REWOUND_INLINE fitted_curve fit_curve_near(const curve_readings& readings, curve_family family,
                                           const Eigen::VectorXd& point, scatter counts) {
  base::expect(magnetising_kind(family), "family", "one without bounds", "magnetising or magnetising_load");
  const Eigen::VectorXd ones = Eigen::VectorXd::Ones(readings.x.size());
  const detail::curve_problem problem(readings, family, ones);
  return detail::finished_curve(readings, family, {detail::settled(problem, point, detail::box_of(problem)), ones},
                                counts);
}

REWOUND_INLINE double variance_scale(bool weighted, double chi2, double dof, scatter counts) {
  if (counts == scatter::not_at_all) return 1.0;
  if (counts == scatter::alone && dof > 0.0) return chi2 / dof;
  if (weighted) return detail::not_a_number;
  const double stated = detail::accuracy_degrees_of_freedom;
  return std::max(1.0, (stated + chi2) / (stated + dof));
}

REWOUND_INLINE double interval_degrees(bool weighted, double dof, scatter counts) {
  return counts == scatter::alone && (weighted || dof > 0.0) ? dof : measurement::known_dof;
}

REWOUND_INLINE fitted_curve fit_curve(const curve_readings& readings, std::optional<curve_family> wanted, bool robust,
                                      scatter counts) {
  const curve_family family = wanted ? *wanted : choose_family(readings);
  const Eigen::VectorXd ones = Eigen::VectorXd::Ones(readings.x.size());
  detail::shared_fit fitted{detail::search_curve(detail::curve_problem(readings, family, ones)), ones};
  if (robust && fitted.found.usable()) fitted = detail::fit_robust(readings, family, fitted.found);
  return detail::finished_curve(readings, family, fitted, counts);
}

REWOUND_INLINE fitted_curve fit_curve_at(const curve_readings& readings, curve_family family,
                                         const Eigen::VectorXd& minimum, scatter counts) {
  const Eigen::VectorXd ones = Eigen::VectorXd::Ones(readings.x.size());
  const double chi2 = detail::curve_problem(readings, family, ones).residuals(minimum).squaredNorm();
  return detail::finished_curve(readings, family, {{least_squares_status::converged, minimum, chi2}, ones}, counts);
}

REWOUND_INLINE predicted predict(const fitted_curve& curve, double x, double level, bool new_reading,
                                 std::optional<double> weight) {
  if (!curve.usable()) return {detail::not_a_number, detail::not_a_number, detail::not_a_number};
  const auto at = current_at(curve.family, curve.parameters, x);
  if (curve.interval_degrees <= 0.0) return {at.value, detail::not_a_number, detail::not_a_number};
  const double of_curve = dot(at.gradient, applied(curve.covariance, at.gradient));
  const double relative = of_curve / (at.value * at.value);
  const double of_reading = curve.reading_variance / (curve.weighted ? weight.value_or(curve.mean_weight) : 1.0);
  const double half = measurement::coverage_factor(level, curve.interval_degrees) *
                      std::sqrt(std::max(0.0, curve.weighted ? of_curve : relative) + (new_reading ? of_reading : 0.0));
  if (curve.weighted) return {at.value, at.value - half, at.value + half};
  return {at.value, at.value * std::exp(-half), at.value * std::exp(half)};
}

}  // namespace rewound::fit
