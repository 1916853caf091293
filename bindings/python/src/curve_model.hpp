// SPDX-License-Identifier: MIT
#pragma once

#include <Eigen/Core>

#include <rewound/fit/curve_family.hpp>
#include <rewound/fit/effective_variance.hpp>

// The families' curves with every derivative that a fit asks for; see fit::curve_family for the formulas.
namespace rewound::python {

/// A curve at one x: the current and its gradient with respect to the parameters.
struct current_point {
  double value;
  Eigen::VectorXd gradient;
};

/// The current itself. Defined for any sign of a and b, and then perhaps not above 0.
current_point current_at(fit::curve_family family, const Eigen::VectorXd& parameters, double x);

/// ln I over ln x, with exponent and both gradients. Not finite where the curve is not above 0.
fit::curve_point_with_gradients log_current_at(fit::curve_family family, const Eigen::VectorXd& parameters, double x);

}  // namespace rewound::python
