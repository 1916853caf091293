// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cmath>
#include <limits>
#include <vector>

// Sums of squares of a leakage current plus absorption K s^-n, s = time over one minute, with leakage and K not below 0.
// For a given exponent n everything is linear, so each sum is closed; only n is searched for. Plain numbers throughout.
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

/// Lowest sum of ((offset_i) - k slope_i)^2 / u_i^2 over k in [low, high].
template <class Offset, class Slope>
double best_multiple(const absorption_points& points, const Offset& offset, const Slope& slope, double low, double high) {
  double square = 0.0;
  double product = 0.0;
  for (const auto& p : points) {
    const double weight = 1.0 / (p.uncertainty * p.uncertainty);
    square += weight * slope(p) * slope(p);
    product += weight * slope(p) * offset(p);
  }
  const double k = square > 0.0 ? std::clamp(product / square, low, high) : low;
  double chi2 = 0.0;
  for (const auto& p : points) chi2 += std::pow((offset(p) - k * slope(p)) / p.uncertainty, 2);
  return chi2;
}

/// The best split at one exponent, neither part below 0.
inline split_current split_at(const absorption_points& points, double n) {
  double one = 0.0, x = 0.0, xx = 0.0, y = 0.0, xy = 0.0;
  for (const auto& p : points) {
    const double weight = 1.0 / (p.uncertainty * p.uncertainty);
    const double decay = std::pow(p.minutes, -n);
    one += weight;
    x += weight * decay;
    xx += weight * decay * decay;
    y += weight * p.current;
    xy += weight * decay * p.current;
  }
  const double determinant = one * xx - x * x;
  split_current out{0.0, xy / xx, 0.0};
  if (determinant > 1e-14 * one * xx) {
    const double leakage = (xx * y - x * xy) / determinant;
    const double absorption = (one * xy - x * y) / determinant;
    if (absorption < 0.0) out = {y / one, 0.0, 0.0};
    else if (leakage > 0.0) out = {leakage, absorption, 0.0};
  }
  for (const auto& p : points)
    out.chi2 += std::pow((p.current - out.leakage - out.absorption * std::pow(p.minutes, -n)) / p.uncertainty, 2);
  return out;
}

/// Lowest value of `chi2_at` over the exponents: a grid, then golden sections round its best point.
struct best_exponent {
  double exponent;
  double chi2;
};

template <class Chi2>
best_exponent search_exponent(const Chi2& chi2_at) {
  constexpr int steps = 76;
  const auto at_step = [](int i) { return exponent_low + (exponent_high - exponent_low) * i / steps; };
  best_exponent best{exponent_low, chi2_at(exponent_low)};
  for (int i = 1; i <= steps; ++i)
    if (const double chi2 = chi2_at(at_step(i)); chi2 < best.chi2) best = {at_step(i), chi2};
  constexpr double golden = 0.6180339887498949;
  double low = std::max(exponent_low, best.exponent - (exponent_high - exponent_low) / steps);
  double high = std::min(exponent_high, best.exponent + (exponent_high - exponent_low) / steps);
  for (int i = 0; i < 26; ++i) {
    const double left = high - golden * (high - low);
    const double right = low + golden * (high - low);
    const double chi2_left = chi2_at(left);
    const double chi2_right = chi2_at(right);
    if (chi2_left < best.chi2) best = {left, chi2_left};
    if (chi2_right < best.chi2) best = {right, chi2_right};
    if (chi2_left <= chi2_right) high = right;
    else low = left;
  }
  return best;
}

/// Lowest sum of squares of all curves whose current is `wanted` at `minutes`.
inline double chi2_with_current(const absorption_points& points, double minutes, double wanted) {
  return search_exponent([&](double n) {
           const double there = std::pow(minutes, -n);
           return best_multiple(points, [&](const auto& p) { return p.current - wanted; },
                                [&](const auto& p) { return std::pow(p.minutes, -n) - there; }, 0.0, wanted / there);
         }).chi2;
}

/// Lowest sum of squares of all curves whose current falls by the factor `ratio` (1 or more) from one time to a later
/// one; infinite where no exponent can make it fall so far.
inline double chi2_with_ratio(const absorption_points& points, double earlier, double later, double ratio) {
  return search_exponent([&](double n) {
           const double before = std::pow(earlier, -n);
           const double after = std::pow(later, -n);
           const double spare = before - ratio * after;
           if (spare < 0.0) return std::numeric_limits<double>::infinity();
           // leakage = k spare, absorption = k (ratio - 1)
           return best_multiple(points, [](const auto& p) { return p.current; },
                                [&](const auto& p) { return spare + (ratio - 1.0) * std::pow(p.minutes, -n); }, 0.0,
                                std::numeric_limits<double>::max());
         }).chi2;
}

/// Where ln x leaves the region in which `chi2_at` stays below `allowed`, going from `start` by `direction` (+1, -1),
/// at most to `end`.
template <class Chi2>
double region_end(const Chi2& chi2_at, double start, double direction, double end, double allowed) {
  double inside = start;
  double step = 0.02;
  double outside = start;
  do {
    outside = direction * std::min(direction * (inside + direction * step), direction * end);
    if (chi2_at(std::exp(outside)) > allowed) break;
    inside = outside;
    step *= 2.0;
  } while (inside != end);
  if (inside == end) return end;
  for (int i = 0; i < 26; ++i) {
    const double middle = 0.5 * (inside + outside);
    (chi2_at(std::exp(middle)) > allowed ? outside : inside) = middle;
  }
  return 0.5 * (inside + outside);
}

}  // namespace rewound::checks::detail
