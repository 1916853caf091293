// SPDX-License-Identifier: MIT
#pragma once

#include <optional>
#include <vector>

#include <rewound/fit/curve_family.hpp>
#include <rewound/fit/curve_reading.hpp>
#include <rewound/measurement/uncertain.hpp>

namespace rewound::fit {

/// A fitted curve. Only readings within [x_low, x_high] stand behind it: beyond, it is an extrapolation.
struct current_curve {
  curve_family family;
  Eigen::VectorXd parameters;
  Eigen::MatrixXd covariance;  ///< of the parameters, scale included
  double chi2;                 ///< weighted sum of squares in log current
  int degrees_of_freedom;
  double scale;  ///< factor by which the readings scatter more than their meters explain, at least 1
  double x_low;
  double x_high;
};

/// Fits one family in log current against log voltage, with errors in both coordinates (see effective_variance.hpp).
/// Of the magnetising families a, b, p and g are kept above 0 and m between 2 and 12.
///
/// @return nothing when the readings do not determine the family's parameters
/// @throws base::error (precondition) for a reading or an uncertainty out of range
std::optional<current_curve> fit_current_curve(curve_family family, const std::vector<curve_reading>& readings);

/// ln I of the curve at x, with its standard uncertainty: readings only, no common meter errors.
///
/// Beyond the readings the uncertainty grows: a curve of one voltage takes in the spread of exponents that fans
/// show, one of several voltages the change that a measured exponent may undergo.
measurement::uncertain<double> log_current(const current_curve& curve, double x);

/// Local exponent d ln I / d ln x at x with its standard uncertainty; absent for a proportional curve, whose
/// exponent is assumed and not measured.
std::optional<measurement::uncertain<double>> exponent(const current_curve& curve, double x);

}  // namespace rewound::fit

#ifndef REWOUND_COMPILED
#include <rewound/fit/impl/current_curve.hpp>
#endif
