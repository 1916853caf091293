// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cmath>
#include <optional>
#include <vector>

#include <rewound/fit/current_curve.hpp>

namespace rewound::fit {

/// Families from the simplest to the richest, as tried for a running machine.
inline constexpr curve_family families_by_simplicity[] = {curve_family::power, curve_family::log_quadratic,
                                                          curve_family::magnetising, curve_family::magnetising_load};

namespace detail {

/// Differences of the criterion below this are ties, and the simpler family wins (K. P. Burnham, D. R. Anderson,
/// Model Selection and Multimodel Inference, 2nd ed. (2002), 2.6: models within 2 have substantial support).
inline constexpr double tie = 2.0;

inline std::size_t distinct_voltages(const std::vector<curve_reading>& readings) {
  std::vector<curve_reading> sorted = readings;
  std::sort(sorted.begin(), sorted.end(), [](const auto& a, const auto& b) { return a.x < b.x; });
  std::size_t count = sorted.empty() ? 0 : 1;
  std::size_t last = 0;
  for (std::size_t i = 1; i < sorted.size(); ++i) {
    const double u = std::hypot(sorted[i].relative_u_x, sorted[last].relative_u_x);
    if (std::log(sorted[i].x / sorted[last].x) <= 3.0 * u) continue;
    ++count;
    last = i;
  }
  return count;
}

/// Akaike's criterion with the small-sample correction (C. M. Hurvich, C.-L. Tsai, Biometrika 76 (1989) 297-307),
/// for errors whose size is known up to the common factor `variance_scale`.
inline double corrected_akaike(const current_curve& curve, std::size_t readings, double variance_scale) {
  const double n = static_cast<double>(readings);
  const double p = static_cast<double>(parameter_count(curve.family));
  return curve.chi2 / variance_scale + 2.0 * p + 2.0 * p * (p + 1.0) / (n - p - 1.0);
}

/// Fits of every family that leaves room to judge it: one distinct voltage and two readings more than parameters.
inline std::vector<current_curve> candidates(const std::vector<curve_reading>& readings) {
  std::vector<current_curve> out;
  const std::size_t distinct = distinct_voltages(readings);
  for (const auto family : families_by_simplicity) {
    const auto p = static_cast<std::size_t>(parameter_count(family));
    if (readings.size() < p + 2 || distinct < p + 1) continue;
    if (auto curve = fit_current_curve(family, readings)) out.push_back(std::move(*curve));
  }
  return out;
}

}  // namespace detail

/// The curve of a speed: the family with the lowest corrected Akaike criterion among those that the readings can
/// carry, the simplest of near-ties. Two voltages carry a power law, one a proportional curve.
///
/// @return nothing without readings
inline std::optional<current_curve> fit_current_curve(const std::vector<curve_reading>& readings) {
  if (readings.empty()) return std::nullopt;
  const auto fits = detail::candidates(readings);
  if (fits.empty()) {
    const bool slope = detail::distinct_voltages(readings) >= 2;
    auto curve = slope ? fit_current_curve(curve_family::power, readings) : std::nullopt;
    return curve ? curve : fit_current_curve(curve_family::proportional, readings);
  }
  // Readings may scatter more than their meters say: the best-fitting family tells how much.
  double scale = 1e300;
  for (const auto& fit : fits) scale = std::min(scale, fit.chi2 / std::max(1, fit.degrees_of_freedom));
  scale = std::max(1.0, scale);
  const auto* best = &fits.front();
  double best_value = detail::corrected_akaike(*best, readings.size(), scale);
  for (const auto& fit : fits) {
    const double value = detail::corrected_akaike(fit, readings.size(), scale);
    if (value >= best_value - detail::tie) continue;
    best = &fit;
    best_value = value;
  }
  return *best;
}

}  // namespace rewound::fit
