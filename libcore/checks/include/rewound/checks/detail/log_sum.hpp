// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cmath>

namespace rewound::checks::detail {

/// ln(e^a + e^b); either may be minus infinity.
inline double log_sum(double a, double b) {
  const double top = std::max(a, b);
  return std::isinf(top) ? top : top + std::log(std::exp(a - top) + std::exp(b - top));
}

}  // namespace rewound::checks::detail
