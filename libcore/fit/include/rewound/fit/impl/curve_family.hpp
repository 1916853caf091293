// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>

#include <Eigen/Core>

#include <rewound/base/compiled.hpp>
#include <rewound/fit/curve_family.hpp>
#include <rewound/fit/detail/plain_curve.hpp>

namespace rewound::fit {

REWOUND_INLINE log_curve_point evaluate(curve_family family, const Eigen::VectorXd& parameters, double x,
                                        bool with_gradient) {
  const auto at = detail::plain_point_at(family, parameters.data(), x, std::log(x));
  return {at.log_value, at.exponent, with_gradient ? detail::vector_of(family, at.of_value) : Eigen::VectorXd{}};
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
