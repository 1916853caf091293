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

/// d exponent / d parameters of I = a x + b x^m.
inline Eigen::VectorXd magnetising_exponent_gradient(const Eigen::VectorXd& p, double x, double exponent) {
  const double power = std::pow(x, p[2]);
  Eigen::VectorXd out(3);
  out << x * (1.0 - exponent), power * (p[2] - exponent), p[1] * power * (1.0 + (p[2] - exponent) * std::log(x));
  return out / (p[0] * x + p[1] * power);
}

/// d exponent / d parameters of I^2 = R^2 + A^2: the exponent is (R R' + A A') / I^2, a dash being d / d ln x.
inline Eigen::VectorXd loaded_exponent_gradient(const Eigen::VectorXd& p, double x, double exponent) {
  const double power = std::pow(x, p[2]);
  const double reactive = p[0] * x + p[1] * power;
  const double reactive_slope = p[0] * x + p[1] * p[2] * power;
  const double active = p[3] / x + p[4] * x;
  const double active_slope = p[4] * x - p[3] / x;
  Eigen::VectorXd of_part(5);
  of_part << x, power, p[1] * power * std::log(x), 1.0 / x, x;
  Eigen::VectorXd of_slope(5);
  of_slope << x, p[2] * power, p[1] * power * (1.0 + p[2] * std::log(x)), -1.0 / x, x;
  Eigen::VectorXd out(5);
  for (Eigen::Index j = 0; j < 5; ++j) {
    const double part = j < 3 ? reactive : active;
    const double slope = j < 3 ? reactive_slope : active_slope;
    out[j] = of_part[j] * slope + part * of_slope[j] - 2.0 * exponent * part * of_part[j];
  }
  return out / (reactive * reactive + active * active);
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

REWOUND_INLINE Eigen::VectorXd exponent_gradient(curve_family family, const Eigen::VectorXd& p, double x,
                                                 double exponent) {
  switch (family) {
    case curve_family::proportional: return Eigen::VectorXd::Zero(1);
    case curve_family::power: return Eigen::Vector2d(0.0, 1.0);
    case curve_family::log_quadratic: return Eigen::Vector3d(0.0, 1.0, 2.0 * std::log(x));
    case curve_family::magnetising: return detail::magnetising_exponent_gradient(p, x, exponent);
    case curve_family::magnetising_load: return detail::loaded_exponent_gradient(p, x, exponent);
  }
  return {};
}

REWOUND_INLINE current_point current_at(curve_family family, const Eigen::VectorXd& parameters, double x) {
  if (family != curve_family::magnetising) {
    const auto at = evaluate(family, parameters, x);
    const double value = std::exp(at.log_value);
    return {value, value * at.log_gradient};
  }
  const double power = std::pow(x, parameters[2]);
  Eigen::Vector3d gradient(x, power, parameters[1] * power * std::log(x));
  return {parameters[0] * x + parameters[1] * power, gradient};
}

}  // namespace rewound::fit
