// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>
#include <limits>
#include <ostream>

// Comparison of two numbers with the tolerance said at the call: relative or absolute, chosen on purpose. doctest's
// own approximate comparison is banned, because its scale is 1 and any two small SI values pass.
namespace rewound::testing {

/// |actual - expected| / |expected|; infinite when only one of the two is 0 or one is not a number.
inline double relative_error(double actual, double expected) {
  if (actual == expected) return 0.0;
  if (expected == 0.0 || !std::isfinite(actual) || !std::isfinite(expected))
    return std::numeric_limits<double>::infinity();
  return std::abs(actual - expected) / std::abs(expected);
}

/// The answer of a comparison, which prints both numbers and by how much they differ.
struct comparison {
  double actual;
  double expected;
  double error;
  double tolerance;
  const char* kind;

  explicit operator bool() const { return error <= tolerance; }

  friend std::ostream& operator<<(std::ostream& out, const comparison& c) {
    const auto digits = out.precision(12);
    out << c.actual << " against " << c.expected << ": " << c.kind << " error " << c.error << ", allowed "
        << c.tolerance;
    out.precision(digits);
    return out;
  }
};

inline comparison near_relative(double actual, double expected, double tolerance) {
  return {actual, expected, relative_error(actual, expected), tolerance, "relative"};
}

inline comparison near_absolute(double actual, double expected, double tolerance) {
  const bool same = actual == expected;
  return {actual, expected, same ? 0.0 : std::abs(actual - expected), tolerance, "absolute"};
}

}  // namespace rewound::testing
