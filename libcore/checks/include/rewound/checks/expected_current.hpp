// SPDX-License-Identifier: MIT
#pragma once

#include <Eigen/Core>

#include <rewound/fit/mean_shape.hpp>

namespace rewound::checks {

/// Where on the mean curve of good machines, and the errors of the reading to be expected there.
struct expected_current_input {
  fit::population population;
  fit::mean_shape shape;               ///< of the block's curves, beyond a parabola
  Eigen::Index place = 0;              ///< where the block's coefficients begin in the population
  double x = 1.0;                      ///< voltage over rated voltage, above 0
  double ammeter_uncertainty = 0.0;    ///< relative, of the new reading, gain included unless it cancels
  double voltmeter_uncertainty = 0.0;  ///< the same of its voltage
};

/// ln of what one more good machine draws there.
struct expected_current_result {
  double log_value = 0.0;
  double log_uncertainty = 0.0;     ///< standard deviation of one reading on one more machine, everything included
  double degrees_of_freedom = 0.0;  ///< of the spread between machines; for Student's factor
  double exponent = 0.0;            ///< d ln I / d ln V of the mean curve
};

/// The predictive distribution of one more good machine's reading of a channel: spread between machines, the mean's own
/// uncertainty, and the meters'.
///
/// @throws base::error (precondition) for x not above 0
/// Source: N. M. Laird, J. H. Ware, Biometrics 38 (1982) 963-974 (random effects).
expected_current_result expected_current(const expected_current_input& in);

}  // namespace rewound::checks

#ifndef REWOUND_COMPILED
#include <rewound/checks/impl/expected_current.hpp>
#endif
