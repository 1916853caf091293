// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>

#include <Eigen/Core>

#include <rewound/base/compiled.hpp>
#include <rewound/fit/curve_family.hpp>

namespace rewound::fit {

namespace detail {

inline log_curve_point magnetising_point(const Eigen::VectorXd& p, double x, bool with_gradient) {
  const double power = std::pow(x, p[2]);
  const double value = p[0] * x + p[1] * power;
  log_curve_point out{std::log(value), (p[0] * x + p[1] * p[2] * power) / value, {}};
  if (with_gradient) out.log_gradient = Eigen::Vector3d(x, power, p[1] * power * std::log(x)) / value;
  return out;
}

inline log_curve_point magnetising_load_point(const Eigen::VectorXd& p, double x, bool with_gradient) {
  const double power = std::pow(x, p[2]);
  const double reactive = p[0] * x + p[1] * power;
  const double active = p[3] / x + p[4] * x;
  const double square = reactive * reactive + active * active;
  const double slope = reactive * (p[0] * x + p[1] * p[2] * power) + active * (p[4] * x - p[3] / x);
  log_curve_point out{0.5 * std::log(square), slope / square, {}};
  if (!with_gradient) return out;
  Eigen::VectorXd gradient(5);
  gradient << reactive * x, reactive * power, reactive * p[1] * power * std::log(x), active / x, active * x;
  out.log_gradient = gradient / square;
  return out;
}

}  // namespace detail

REWOUND_INLINE log_curve_point evaluate(curve_family family, const Eigen::VectorXd& parameters, double x,
                                        bool with_gradient) {
  if (family == curve_family::magnetising) return detail::magnetising_point(parameters, x, with_gradient);
  if (family == curve_family::magnetising_load) return detail::magnetising_load_point(parameters, x, with_gradient);
  const double z = std::log(x);
  log_curve_point out{};
  if (family == curve_family::log_quadratic) {
    out.log_value = parameters[0] + (parameters[1] + parameters[2] * z) * z;
    out.exponent = parameters[1] + 2.0 * parameters[2] * z;
    if (with_gradient) out.log_gradient = Eigen::Vector3d(1.0, z, z * z);
    return out;
  }
  const bool free_exponent = family == curve_family::power;
  out.exponent = free_exponent ? parameters[1] : 1.0;
  out.log_value = std::log(parameters[0]) + (free_exponent ? parameters[1] * z : z);
  if (!with_gradient) return out;
  out.log_gradient = Eigen::VectorXd::Constant(parameter_count(family), z);
  out.log_gradient[0] = 1.0 / parameters[0];
  return out;
}

}  // namespace rewound::fit
