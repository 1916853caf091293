// SPDX-License-Identifier: MIT
#include "curve_model.hpp"

#include <cmath>

namespace rewound::python {

namespace {

using Eigen::VectorXd;
using fit::curve_family;

/// d exponent / d parameters of I = a x + b x^m.
VectorXd magnetising_exponent_gradient(const VectorXd& p, double x, double exponent) {
  const double power = std::pow(x, p[2]);
  VectorXd out(3);
  out << x * (1.0 - exponent), power * (p[2] - exponent), p[1] * power * (1.0 + (p[2] - exponent) * std::log(x));
  return out / (p[0] * x + p[1] * power);
}

/// d exponent / d parameters of I^2 = R^2 + A^2: the exponent is (R R' + A A') / I^2, a dash being d / d ln x.
VectorXd loaded_exponent_gradient(const VectorXd& p, double x, double exponent) {
  const double power = std::pow(x, p[2]);
  const double reactive = p[0] * x + p[1] * power;
  const double reactive_slope = p[0] * x + p[1] * p[2] * power;
  const double active = p[3] / x + p[4] * x;
  const double active_slope = p[4] * x - p[3] / x;
  VectorXd of_part(5);
  of_part << x, power, p[1] * power * std::log(x), 1.0 / x, x;
  VectorXd of_slope(5);
  of_slope << x, p[2] * power, p[1] * power * (1.0 + p[2] * std::log(x)), -1.0 / x, x;
  VectorXd out(5);
  for (Eigen::Index j = 0; j < 5; ++j) {
    const double part = j < 3 ? reactive : active;
    const double slope = j < 3 ? reactive_slope : active_slope;
    out[j] = of_part[j] * slope + part * of_slope[j] - 2.0 * exponent * part * of_part[j];
  }
  return out / (reactive * reactive + active * active);
}

VectorXd exponent_gradient(curve_family family, const VectorXd& p, double x, double exponent) {
  switch (family) {
    case curve_family::proportional: return VectorXd::Zero(1);
    case curve_family::power: return Eigen::Vector2d(0.0, 1.0);
    case curve_family::log_quadratic: return Eigen::Vector3d(0.0, 1.0, 2.0 * std::log(x));
    case curve_family::magnetising: return magnetising_exponent_gradient(p, x, exponent);
    case curve_family::magnetising_load: return loaded_exponent_gradient(p, x, exponent);
  }
  return {};
}

}  // namespace

current_point current_at(fit::curve_family family, const VectorXd& parameters, double x) {
  if (family != curve_family::magnetising) {
    const auto at = fit::evaluate(family, parameters, x);
    const double value = std::exp(at.log_value);
    return {value, value * at.log_gradient};
  }
  const double power = std::pow(x, parameters[2]);
  Eigen::Vector3d gradient(x, power, parameters[1] * power * std::log(x));
  return {parameters[0] * x + parameters[1] * power, gradient};
}

fit::curve_point_with_gradients log_current_at(fit::curve_family family, const VectorXd& parameters, double x) {
  const auto at = fit::evaluate(family, parameters, x);
  return {at.log_value, at.exponent, at.log_gradient, exponent_gradient(family, parameters, x, at.exponent)};
}

}  // namespace rewound::python
