// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>

#include <Eigen/Core>

#include <rewound/fit/curve_family.hpp>

// Curves and their derivatives on plain numbers: what every search and every evaluation of one curve takes.
namespace rewound::fit::detail {

inline constexpr std::size_t most_parameters = 5;
using parameter_array = std::array<double, most_parameters>;

inline Eigen::VectorXd vector_of(curve_family family, const parameter_array& numbers) {
  Eigen::VectorXd out(parameter_count(family));
  std::copy_n(numbers.begin(), out.size(), out.data());
  return out;
}

inline parameter_array array_of(const Eigen::VectorXd& numbers) {
  parameter_array out = {};
  std::copy_n(numbers.data(), numbers.size(), out.begin());
  return out;
}

/// A family's curve at one point: ln I, d ln I / d ln x, and how both change with the family's own parameters.
struct plain_point {
  double log_value = 0.0;
  double exponent = 0.0;
  parameter_array of_value = {};     ///< d ln I / d parameter
  parameter_array of_exponent = {};  ///< d exponent / d parameter
  /// Of the magnetising families: how much of the current each of a x, b x^m, p / x and g x is by itself.
  parameter_array share = {};
};

inline plain_point magnetising_point(const double* p, double x, double z) {
  const double power = std::exp(p[2] * z);
  const double line = p[0] * x, bent = p[1] * power;
  const double value = line + bent;
  plain_point out;
  out.log_value = std::log(value);
  out.exponent = (line + p[2] * bent) / value;
  out.of_value = {x / value, power / value, bent * z / value};
  const double above = p[2] - out.exponent;
  out.of_exponent = {x * (1.0 - out.exponent) / value, power * above / value, bent * (1.0 + above * z) / value};
  out.share = {line / value, bent / value};
  return out;
}

/// I^2 = R^2 + A^2: the exponent is (R R' + A A') / I^2, a dash being d / d ln x.
inline plain_point magnetising_load_point(const double* p, double x, double z) {
  const double power = std::exp(p[2] * z);
  const double line = p[0] * x, bent = p[1] * power;
  const double falling = p[3] / x, rising = p[4] * x;
  const double reactive = line + bent, reactive_slope = line + p[2] * bent;
  const double active = falling + rising, active_slope = rising - falling;
  const double square = reactive * reactive + active * active;
  plain_point out;
  out.log_value = 0.5 * std::log(square);
  out.exponent = (reactive * reactive_slope + active * active_slope) / square;
  const parameter_array of_part{x, power, bent * z, 1.0 / x, x};
  const parameter_array of_slope{x, p[2] * power, bent * (1.0 + p[2] * z), -1.0 / x, x};
  for (std::size_t j = 0; j < most_parameters; ++j) {
    const double part = j < 3 ? reactive : active;
    const double slope = j < 3 ? reactive_slope : active_slope;
    out.of_value[j] = part * of_part[j] / square;
    out.of_exponent[j] = (of_part[j] * slope + part * of_slope[j] - 2.0 * out.exponent * part * of_part[j]) / square;
  }
  const double value = std::sqrt(square);
  out.share = {line / value, bent / value, 0.0, falling / value, rising / value};
  return out;
}

/// @param z  ln x
inline plain_point plain_point_at(curve_family family, const double* p, double x, double z) {
  plain_point out;
  switch (family) {
    case curve_family::proportional:
      out.log_value = std::log(p[0]) + z;
      out.exponent = 1.0;
      out.of_value = {1.0 / p[0]};
      return out;
    case curve_family::power:
      out.log_value = std::log(p[0]) + p[1] * z;
      out.exponent = p[1];
      out.of_value = {1.0 / p[0], z};
      out.of_exponent = {0.0, 1.0};
      return out;
    case curve_family::log_quadratic:
      out.log_value = p[0] + (p[1] + p[2] * z) * z;
      out.exponent = p[1] + 2.0 * p[2] * z;
      out.of_value = {1.0, z, z * z};
      out.of_exponent = {0.0, 1.0, 2.0 * z};
      return out;
    case curve_family::magnetising: return magnetising_point(p, x, z);
    case curve_family::magnetising_load: return magnetising_load_point(p, x, z);
  }
  return out;
}

}  // namespace rewound::fit::detail
