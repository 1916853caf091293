// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>

#include <rewound/fit/current_curve.hpp>
#include <rewound/measurement/distribution.hpp>
#include <rewound/measurement/uncertain.hpp>

namespace rewound::fit {

/// Interval for the current at x: of the curve itself, or of one new reading with the given relative uncertainty.
///
/// @param level               coverage, such as 0.95
/// @param new_reading_u       relative standard uncertainty of the new reading; 0 gives the curve's own interval
inline measurement::interval<double> current_interval(const current_curve& curve, double x, double level,
                                                      double new_reading_u = 0.0) {
  const auto log = log_current(curve, x);
  const double half = measurement::coverage_factor(level) *
                      std::hypot(log.standard_uncertainty, new_reading_u * (new_reading_u > 0.0 ? curve.scale : 0.0));
  return {std::exp(log.value - half), std::exp(log.value + half)};
}

}  // namespace rewound::fit
