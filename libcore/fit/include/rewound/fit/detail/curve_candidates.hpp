// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cmath>
#include <iterator>
#include <limits>
#include <numeric>
#include <vector>

#include <rewound/fit/current_curve.hpp>
#include <rewound/fit/curve_family.hpp>
#include <rewound/fit/curve_readings.hpp>
#include <rewound/fit/detail/curve_search.hpp>
#include <rewound/fit/detail/fit_family.hpp>

namespace rewound::fit::detail {

/// Differences of the criterion below this are ties, and the simpler family wins (K. P. Burnham, D. R. Anderson,
/// Model Selection and Multimodel Inference, 2nd ed. (2002), 2.6: models within 2 have substantial support).
inline constexpr double tie = 2.0;

/// Voltages that the voltmeter tells apart; with weights, all different ones.
inline std::size_t distinct_voltages(const curve_readings& readings) {
  const auto n = static_cast<std::size_t>(readings.x.size());
  std::vector<Eigen::Index> order(n);
  std::iota(order.begin(), order.end(), Eigen::Index{0});
  std::sort(order.begin(), order.end(), [&](auto a, auto b) { return readings.x[a] < readings.x[b]; });
  std::size_t count = n == 0 ? 0 : 1;
  std::size_t last = 0;
  for (std::size_t i = 1; i < n; ++i) {
    const auto here = order[i], before = order[last];
    const double u = readings.weighted() ? 0.0 : std::hypot(readings.relative_u_x[here], readings.relative_u_x[before]);
    if (std::log(readings.x[here] / readings.x[before]) <= 3.0 * u) continue;
    ++count;
    last = i;
  }
  return count;
}

/// What the criterion asks for so many parameters alone, with the small-sample correction (C. M. Hurvich, C.-L. Tsai,
/// Biometrika 76 (1989) 297-307).
inline double price_of(int parameters, std::size_t readings) {
  const double n = static_cast<double>(readings);
  const double p = static_cast<double>(parameters);
  return 2.0 * p + 2.0 * p * (p + 1.0) / (n - p - 1.0);
}

/// Akaike's corrected criterion for errors whose size is known up to the common factor `variance_scale`.
inline double corrected_akaike(const current_curve& curve, std::size_t readings, double variance_scale) {
  return curve.chi2 / variance_scale + price_of(parameter_count(curve.family), readings);
}

/// The same for errors of unknown size, which counts as a parameter.
inline double unknown_scale_akaike(const curve_readings& in, curve_family family, double chi2) {
  const double n = static_cast<double>(in.x.size());
  // Below rounding all families fit alike, and the simplest shall win.
  const double rounding = 16.0 * std::numeric_limits<double>::epsilon();
  double squares = 0.0;
  for (Eigen::Index i = 0; i < in.x.size(); ++i) squares += in.weight[i] * in.current[i] * in.current[i];
  const double least = rounding * rounding * squares;
  return n * std::log(std::max(chi2, least) / n) +
         price_of(parameter_count(family) + 1, static_cast<std::size_t>(in.x.size()));
}

/// The lowest value, the first of near-ties, of fits from the simplest to the richest: which one leads after each.
inline std::vector<std::size_t> leaders_of(const std::vector<double>& values) {
  std::vector<std::size_t> out;
  double best = std::numeric_limits<double>::infinity();
  for (std::size_t i = 0; i < values.size(); ++i) {
    const bool leads = out.empty() || !(values[i] >= best - tie);
    if (leads) best = values[i];
    out.push_back(leads ? i : out.back());
  }
  return out;
}

inline std::vector<std::size_t> leaders_of(const std::vector<current_curve>& fits, std::size_t readings,
                                           double variance_scale) {
  std::vector<double> values;
  for (const auto& fit : fits) values.push_back(corrected_akaike(fit, readings, variance_scale));
  return leaders_of(values);
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
  return lowest <= price_of(parameter_count(family), readings) &&
         leaders_of(others, readings, 1.0) == leaders_of(others, readings, scatter);
}

/// The chi2 that the last family would have to come below to be chosen after the others, whatever the scale of the
/// readings' scatter: its price being the highest, that is most at scale 1. Without bound where it may change the
/// choice among the others too.
inline double chi2_to_win(curve_family family, const std::vector<current_curve>& others, std::size_t readings) {
  constexpr double any = std::numeric_limits<double>::infinity();
  if (others.empty() || family != *std::prev(std::end(families_by_simplicity))) return any;
  const auto leaders = leaders_of(others, readings, 1.0);
  if (leaders != leaders_of(others, readings, scatter_of(others))) return any;
  return corrected_akaike(others[leaders.back()], readings, 1.0) - tie - price_of(parameter_count(family), readings);
}

/// Whether readings with weights leave room to judge a family: one reading more than without, since the errors' size is
/// unknown.
inline bool carries_weighted(std::size_t readings, std::size_t voltages, curve_family family) {
  const auto p = static_cast<std::size_t>(parameter_count(family));
  return readings >= p + 3 && voltages >= p + 1;
}

/// The same without weights.
inline bool carries(std::size_t readings, std::size_t voltages, curve_family family) {
  const auto p = static_cast<std::size_t>(parameter_count(family));
  return readings >= p + 2 && voltages >= p + 1;
}

/// Fits of every family that leaves room to judge it: one distinct voltage and two readings more than parameters. Those
/// that cannot be chosen any more are not fitted, or not searched to the end.
inline std::vector<current_curve> candidates(const std::vector<curve_reading>& readings) {
  std::vector<current_curve> out;
  const std::size_t distinct = distinct_voltages(columns_of(readings));
  for (const auto family : families_by_simplicity) {
    if (!carries(readings.size(), distinct, family) || cannot_win(family, out, readings.size())) continue;
    if (auto curve = fit_family(family, readings, chi2_to_win(family, out, readings.size())))
      out.push_back(std::move(*curve));
  }
  return out;
}

/// The choice where the errors' size is unknown.
inline curve_family choose_weighted(const curve_readings& in) {
  const auto voltages = distinct_voltages(in);
  std::vector<curve_family> families;
  std::vector<double> values;
  for (const auto family : families_by_simplicity) {
    if (!carries_weighted(static_cast<std::size_t>(in.x.size()), voltages, family)) continue;
    const auto found = search_curve(curve_problem(in, family, Eigen::VectorXd::Ones(in.x.size())));
    if (!found.usable()) continue;
    families.push_back(family);
    values.push_back(unknown_scale_akaike(in, family, found.chi2));
  }
  if (families.empty()) return voltages >= 2 ? curve_family::power : curve_family::proportional;
  return families[leaders_of(values).back()];
}

}  // namespace rewound::fit::detail
