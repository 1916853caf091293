// SPDX-License-Identifier: MIT
#pragma once

#include <Eigen/Core>

namespace rewound::fit {

/// Families of current against voltage, with x = voltage / rated voltage. Parameters in the order named.
enum class curve_family {
  proportional,     ///< I = a x                                    (a)
  power,            ///< I = a x^n                                  (a, n)
  log_quadratic,    ///< ln I = A + n ln x + c (ln x)^2             (A, n, c)
  magnetising,      ///< I = a x + b x^m                            (a, b, m)
  magnetising_load  ///< I = sqrt((a x + b x^m)^2 + (p/x + g x)^2)  (a, b, m, p, g)
};

/// Families from the simplest to the richest, as tried for a running machine.
inline constexpr curve_family families_by_simplicity[] = {curve_family::power, curve_family::log_quadratic,
                                                          curve_family::magnetising, curve_family::magnetising_load};

constexpr int parameter_count(curve_family family) {
  switch (family) {
    case curve_family::proportional: return 1;
    case curve_family::power: return 2;
    case curve_family::log_quadratic:
    case curve_family::magnetising: return 3;
    case curve_family::magnetising_load: return 5;
  }
  return 0;
}

/// The families whose parameters have bounds when they are fitted.
constexpr bool magnetising_kind(curve_family family) {
  return family == curve_family::magnetising || family == curve_family::magnetising_load;
}

/// A family's curve at one point: ln I, the local exponent d ln I / d ln x, and the gradient of ln I with
/// respect to the parameters.
struct log_curve_point {
  double log_value;
  double exponent;
  Eigen::VectorXd log_gradient;
};

/// The curve of `family` with these parameters at x > 0.
///
/// @param with_gradient  whether log_gradient is wanted; otherwise it is left empty
log_curve_point evaluate(curve_family family, const Eigen::VectorXd& parameters, double x, bool with_gradient = true);

/// A curve at one x: the current and its gradient with respect to the parameters.
struct current_point {
  double value;
  Eigen::VectorXd gradient;
};

/// The current itself. Defined for any sign of a and b, and then perhaps not above 0.
current_point current_at(curve_family family, const Eigen::VectorXd& parameters, double x);

}  // namespace rewound::fit

#ifndef REWOUND_COMPILED
#include <rewound/fit/impl/curve_family.hpp>
#endif
