// SPDX-License-Identifier: MIT
#pragma once

#include <array>
#include <cmath>
#include <cstddef>

// Forward-mode derivatives for the test models: one formula per set gives value and exact gradient, so no
// hand-made derivative can hide a mistake of the solver.

namespace oracle {

struct dual {
  static constexpr std::size_t most_parameters = 9;  // ENSO has nine
  double value = 0.0;
  std::array<double, most_parameters> gradient{};

  dual() = default;
  dual(double constant) : value(constant) {}  // NOLINT: constants mix freely with parameters in a formula

  static dual variable(double at, std::size_t index) {
    dual result(at);
    result.gradient.at(index) = 1.0;
    return result;
  }
};

/// value, with gradient = slope_a * a' + slope_b * b'.
inline dual chained(double value, double slope_a, const dual& a, double slope_b = 0.0, const dual& b = {}) {
  dual result(value);
  for (std::size_t i = 0; i < dual::most_parameters; ++i) {
    result.gradient[i] = slope_a * a.gradient[i] + slope_b * b.gradient[i];
  }
  return result;
}

inline dual operator+(const dual& a, const dual& b) { return chained(a.value + b.value, 1.0, a, 1.0, b); }
inline dual operator-(const dual& a, const dual& b) { return chained(a.value - b.value, 1.0, a, -1.0, b); }
inline dual operator-(const dual& a) { return chained(-a.value, -1.0, a); }
inline dual operator*(const dual& a, const dual& b) { return chained(a.value * b.value, b.value, a, a.value, b); }
inline dual operator/(const dual& a, const dual& b) {
  const double quotient = a.value / b.value;
  return chained(quotient, 1.0 / b.value, a, -quotient / b.value, b);
}
inline dual exp(const dual& a) {
  const double value = std::exp(a.value);
  return chained(value, value, a);
}
inline dual sin(const dual& a) { return chained(std::sin(a.value), std::cos(a.value), a); }
inline dual cos(const dual& a) { return chained(std::cos(a.value), -std::sin(a.value), a); }
inline dual atan(const dual& a) { return chained(std::atan(a.value), 1.0 / (1.0 + a.value * a.value), a); }
inline dual log(const dual& a) { return chained(std::log(a.value), 1.0 / a.value, a); }
inline dual pow(const dual& a, const dual& b) {
  const double value = std::pow(a.value, b.value);
  return chained(value, b.value * std::pow(a.value, b.value - 1.0), a, value * std::log(a.value), b);
}

}  // namespace oracle
