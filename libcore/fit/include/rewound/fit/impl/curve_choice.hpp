// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cmath>
#include <iterator>
#include <optional>
#include <vector>

#include <rewound/base/compiled.hpp>
#include <rewound/fit/current_curve.hpp>
#include <rewound/fit/curve_choice.hpp>

namespace rewound::fit {

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

/// What the criterion asks for the number of parameters alone.
inline double price_of(curve_family family, std::size_t readings) {
  const double n = static_cast<double>(readings);
  const double p = static_cast<double>(parameter_count(family));
  return 2.0 * p + 2.0 * p * (p + 1.0) / (n - p - 1.0);
}

/// Akaike's criterion with the small-sample correction (C. M. Hurvich, C.-L. Tsai, Biometrika 76 (1989) 297-307),
/// for errors whose size is known up to the common factor `variance_scale`.
inline double corrected_akaike(const current_curve& curve, std::size_t readings, double variance_scale) {
  return curve.chi2 / variance_scale + price_of(curve.family, readings);
}

/// The fit with the lowest criterion, the simplest of near-ties: which one leads after each of the fits, which stand
/// from the simplest to the richest.
inline std::vector<std::size_t> leaders_of(const std::vector<current_curve>& fits, std::size_t readings,
                                           double variance_scale) {
  std::vector<std::size_t> out{0};
  double best_value = corrected_akaike(fits.front(), readings, variance_scale);
  for (std::size_t i = 1; i < fits.size(); ++i) {
    const double value = corrected_akaike(fits[i], readings, variance_scale);
    const bool leads = !(value >= best_value - tie);
    if (leads) best_value = value;
    out.push_back(leads ? i : out.back());
  }
  return out;
}

inline const current_curve& chosen_of(const std::vector<current_curve>& fits, std::size_t readings,
                                      double variance_scale) {
  return fits[leaders_of(fits, readings, variance_scale).back()];
}

/// Readings may scatter more than their meters say: the best-fitting family tells how much, as a variance.
inline double scatter_of(const std::vector<current_curve>& fits) {
  double scale = 1e300;
  for (const auto& fit : fits) scale = std::min(scale, fit.chi2 / std::max(1, fit.degrees_of_freedom));
  return std::max(1.0, scale);
}

/// Whether a family, fitted after the others, could neither be chosen nor change the choice even if it met every
/// reading.
///
/// It could at most lower the scale, which the others' scatter bounds from above and 1 from below. The criterion of
/// each fit falls with the scale, and the one chosen lies within a tie of the lowest: so none is chosen whose price
/// alone is above the lowest at scale 1. And as every comparison of two fits is monotone in the inverse of the scale,
/// the others' choice is the same at all scales if their leaders are at both ends; of a family that others follow, the
/// ends must be the same.
inline bool cannot_win(curve_family family, const std::vector<current_curve>& others, std::size_t readings) {
  if (others.empty()) return false;
  const double scatter = scatter_of(others);
  if (scatter > 1.0 && family != *std::prev(std::end(families_by_simplicity))) return false;
  double lowest = corrected_akaike(others.front(), readings, 1.0);
  for (const auto& fit : others) lowest = std::min(lowest, corrected_akaike(fit, readings, 1.0));
  return lowest <= price_of(family, readings) &&
         leaders_of(others, readings, 1.0) == leaders_of(others, readings, scatter);
}

/// Fits of every family that leaves room to judge it: one distinct voltage and two readings more than parameters. Those
/// that cannot be chosen any more are not fitted.
inline std::vector<current_curve> candidates(const std::vector<curve_reading>& readings) {
  std::vector<current_curve> out;
  const std::size_t distinct = distinct_voltages(readings);
  for (const auto family : families_by_simplicity) {
    const auto p = static_cast<std::size_t>(parameter_count(family));
    if (readings.size() < p + 2 || distinct < p + 1 || cannot_win(family, out, readings.size())) continue;
    if (auto curve = fit_current_curve(family, readings)) out.push_back(std::move(*curve));
  }
  return out;
}

}  // namespace detail

REWOUND_INLINE std::optional<current_curve> fit_current_curve(const std::vector<curve_reading>& readings) {
  if (readings.empty()) return std::nullopt;
  const auto fits = detail::candidates(readings);
  if (fits.empty()) {
    const bool slope = detail::distinct_voltages(readings) >= 2;
    auto curve = slope ? fit_current_curve(curve_family::power, readings) : std::nullopt;
    return curve ? curve : fit_current_curve(curve_family::proportional, readings);
  }
  return detail::chosen_of(fits, readings.size(), detail::scatter_of(fits));
}

}  // namespace rewound::fit
