// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cmath>

namespace rewound::measurement {

/// Number of decimals to print so that the half-width of the 95 % interval shows one significant digit, two when
/// that digit would be a 1 (common practice, no source). Negative results mean rounding left of the point.
///
/// A half-width of 0 or not finite gives `fallback`.
inline int decimals_for(double half_width, int fallback = 3) {
  if (!(half_width > 0.0) || !std::isfinite(half_width)) return fallback;
  const int exponent = static_cast<int>(std::floor(std::log10(half_width)));
  const double leading = half_width / std::pow(10.0, exponent);
  return -exponent + (leading < 1.95 ? 1 : 0);
}

/// `value` rounded to that many decimals (half away from zero).
inline double rounded(double value, int decimals) {
  const double scale = std::pow(10.0, decimals);
  return std::round(value * scale) / scale;
}

}  // namespace rewound::measurement
