// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cmath>
#include <limits>
#include <utility>
#include <vector>

#include <rewound/checks/detail/mixture_kernel.hpp>

// Sums of squares of a leakage current plus absorption K s^-n, s = time over one minute, with leakage and K not below
// 0. For a given exponent n everything is linear, so each sum is closed; only n is searched for. Plain numbers
// throughout.
namespace rewound::checks::detail {

/// Exponents searched. Reported absorption lies between about 0.3 and 1.2 (common practice, no source); the bounds
/// leave room on both sides.
inline constexpr double exponent_low = 0.1;
inline constexpr double exponent_high = 2.0;

/// One reading: minutes, current over a scale of its own, standard uncertainty in the same scale.
struct absorption_point {
  double minutes;
  double current;
  double uncertainty;
};

using absorption_points = std::vector<absorption_point>;

/// Leakage and absorption at one exponent, with their sum of squares.
struct split_current {
  double leakage = 0.0;
  double absorption = 0.0;
  double chi2 = std::numeric_limits<double>::infinity();
};

inline constexpr int exponent_steps = 76;
inline double exponent_at_step(int i) { return exponent_low + (exponent_high - exponent_low) * i / exponent_steps; }

/// minutes^-exponent of every reading, and of some more times: at the steps of the search worked out once, between them
/// when asked for.
class decays {
 public:
  explicit decays(const absorption_points& points, const std::vector<double>& more_minutes = {}) {
    std::vector<double> logs;
    for (const auto& p : points) logs.push_back(std::log(p.minutes));
    for (const double minutes : more_minutes) logs.push_back(std::log(minutes));
    constexpr auto widest = static_cast<std::size_t>(base::most_lanes);
    row_ = (logs.size() + widest - 1) / widest * widest;
    logs.resize(row_, 0.0);
    logs_ = std::move(logs);
    at_steps_.resize(row_ * (exponent_steps + 1));
    for (int i = 0; i <= exponent_steps; ++i)
      fill(exponent_at_step(i), at_steps_.data() + static_cast<std::size_t>(i) * row_);
    between_.resize(row_);
  }

  const double* at_step(int i) const { return at_steps_.data() + static_cast<std::size_t>(i) * row_; }

  /// Good until the next call.
  const double* at(double exponent) {
    fill(exponent, between_.data());
    return between_.data();
  }

 private:
  void fill(double exponent, double* out) const {
    for (std::size_t i = 0; i < row_; ++i) out[i] = -exponent * logs_[i];
    loops_of(base::widest_lanes()).exponentials(out, row_);
  }

  std::size_t row_ = 0;
  std::vector<double> logs_, at_steps_, between_;
};

/// Lowest sum of ((offset_i) - k slope_i)^2 / u_i^2 over k in [low, high].
template <class Offset, class Slope>
double best_multiple(const absorption_points& points, const Offset& offset, const Slope& slope, double low,
                     double high) {
  double square = 0.0;
  double product = 0.0;
  for (std::size_t i = 0; i < points.size(); ++i) {
    const double weight = 1.0 / (points[i].uncertainty * points[i].uncertainty);
    square += weight * slope(i) * slope(i);
    product += weight * slope(i) * offset(i);
  }
  const double k = square > 0.0 ? std::clamp(product / square, low, high) : low;
  double chi2 = 0.0;
  for (std::size_t i = 0; i < points.size(); ++i) {
    const double away = (offset(i) - k * slope(i)) / points[i].uncertainty;
    chi2 += away * away;
  }
  return chi2;
}

/// The best split at one exponent, neither part below 0.
///
/// @param decay  of the readings at that exponent
inline split_current split_at(const absorption_points& points, const double* decay) {
  double one = 0.0, x = 0.0, xx = 0.0, y = 0.0, xy = 0.0;
  for (std::size_t i = 0; i < points.size(); ++i) {
    const auto& p = points[i];
    const double weight = 1.0 / (p.uncertainty * p.uncertainty);
    one += weight;
    x += weight * decay[i];
    xx += weight * decay[i] * decay[i];
    y += weight * p.current;
    xy += weight * decay[i] * p.current;
  }
  const double determinant = one * xx - x * x;
  split_current out{0.0, xy / xx, 0.0};
  if (determinant > 1e-14 * one * xx) {
    const double leakage = (xx * y - x * xy) / determinant;
    const double absorption = (one * xy - x * y) / determinant;
    if (absorption < 0.0) out = {y / one, 0.0, 0.0};
    else if (leakage > 0.0) out = {leakage, absorption, 0.0};
  }
  for (std::size_t i = 0; i < points.size(); ++i) {
    const double away = (points[i].current - out.leakage - out.absorption * decay[i]) / points[i].uncertainty;
    out.chi2 += away * away;
  }
  return out;
}

/// Lowest value of `chi2_at` over the exponents: a grid, then golden sections round its best point.
struct best_exponent {
  double exponent;
  double chi2;
};

/// @param chi2_at  sum of squares for the decays at an exponent
/// @param enough   the search ends at the first value not above it
template <class Chi2>
best_exponent search_exponent(decays& by, const Chi2& chi2_at,
                              double enough = -std::numeric_limits<double>::infinity()) {
  best_exponent best{exponent_low, chi2_at(by.at_step(0))};
  for (int i = 1; i <= exponent_steps && best.chi2 > enough; ++i)
    if (const double chi2 = chi2_at(by.at_step(i)); chi2 < best.chi2) best = {exponent_at_step(i), chi2};
  constexpr double golden = 0.6180339887498949;
  double low = std::max(exponent_low, best.exponent - (exponent_high - exponent_low) / exponent_steps);
  double high = std::min(exponent_high, best.exponent + (exponent_high - exponent_low) / exponent_steps);
  for (int i = 0; i < 26 && best.chi2 > enough; ++i) {
    const double left = high - golden * (high - low);
    const double right = low + golden * (high - low);
    const double chi2_left = chi2_at(by.at(left));
    const double chi2_right = chi2_at(by.at(right));
    if (chi2_left < best.chi2) best = {left, chi2_left};
    if (chi2_right < best.chi2) best = {right, chi2_right};
    if (chi2_left <= chi2_right) high = right;
    else low = left;
  }
  return best;
}

/// The best split over all exponents.
inline std::pair<best_exponent, split_current> best_split(const absorption_points& points, decays& by) {
  const auto best = search_exponent(by, [&](const double* decay) { return split_at(points, decay).chi2; });
  return {best, split_at(points, by.at(best.exponent))};
}

/// Whether some curve whose current is `wanted` at one time has a sum of squares of `allowed` or less.
///
/// @param by  of the readings, and of that time
inline bool some_with_current(const absorption_points& points, decays& by, double wanted, double allowed) {
  const auto chi2_at = [&](const double* decay) {
    const double there = decay[points.size()];
    return best_multiple(
        points, [&](std::size_t i) { return points[i].current - wanted; },
        [&](std::size_t i) { return decay[i] - there; }, 0.0, wanted / there);
  };
  return search_exponent(by, chi2_at, allowed).chi2 <= allowed;
}

/// The same of curves whose current falls by the factor `ratio` (1 or more) from one time to a later one. No exponent
/// may be able to make it fall so far.
///
/// @param by  of the readings, of the earlier and of the later time
inline bool some_with_ratio(const absorption_points& points, decays& by, double ratio, double allowed) {
  const auto chi2_at = [&](const double* decay) {
    const double spare = decay[points.size()] - ratio * decay[points.size() + 1];
    if (spare < 0.0) return std::numeric_limits<double>::infinity();
    // leakage = k spare, absorption = k (ratio - 1)
    return best_multiple(
        points, [&](std::size_t i) { return points[i].current; },
        [&](std::size_t i) { return spare + (ratio - 1.0) * decay[i]; }, 0.0, std::numeric_limits<double>::max());
  };
  return search_exponent(by, chi2_at, allowed).chi2 <= allowed;
}

/// Whether some curve with this leakage, or with this absorption at one minute, has a sum of squares of `allowed` or
/// less.
inline bool some_with_leakage(const absorption_points& points, decays& by, double leakage, double allowed) {
  const auto chi2_at = [&](const double* decay) {
    return best_multiple(
        points, [&](std::size_t i) { return points[i].current - leakage; }, [&](std::size_t i) { return decay[i]; },
        0.0, std::numeric_limits<double>::max());
  };
  return search_exponent(by, chi2_at, allowed).chi2 <= allowed;
}

inline bool some_with_absorption(const absorption_points& points, decays& by, double absorption, double allowed) {
  const auto chi2_at = [&](const double* decay) {
    return best_multiple(
        points, [&](std::size_t i) { return points[i].current - absorption * decay[i]; },
        [](std::size_t) { return 1.0; }, 0.0, std::numeric_limits<double>::max());
  };
  return search_exponent(by, chi2_at, allowed).chi2 <= allowed;
}

/// Where ln x leaves the region of what is allowed, going from `start` by `direction` (+1, -1), at most to `end`.
template <class Allowed>
double region_end(const Allowed& allowed_at, double start, double direction, double end) {
  double inside = start;
  double step = 0.02;
  double outside = start;
  do {
    outside = direction * std::min(direction * (inside + direction * step), direction * end);
    if (!allowed_at(std::exp(outside))) break;
    inside = outside;
    step *= 2.0;
  } while (inside != end);
  if (inside == end) return end;
  for (int i = 0; i < 26; ++i) {
    const double middle = 0.5 * (inside + outside);
    (allowed_at(std::exp(middle)) ? inside : outside) = middle;
  }
  return 0.5 * (inside + outside);
}

}  // namespace rewound::checks::detail
