// SPDX-License-Identifier: MIT
#pragma once

#include <optional>

#include <rewound/base/expect.hpp>
#include <rewound/measurement/normal.hpp>

namespace rewound::measurement {

/// Limits of tolerance, each side optional, in the unit of the value judged.
struct tolerance {
  std::optional<double> low;
  std::optional<double> high;
};

/// Probability that the true value lies within the tolerance, given a measured value with a normal
/// distribution of the stated standard uncertainty (JCGM 106:2012, 7.2 to 7.4; from memory, unverified).
///
/// A standard uncertainty of 0 gives 0 or 1; a value exactly on a limit is inside.
inline double conformity_probability(double value, double standard_uncertainty, const tolerance& limits) {
  base::expect(standard_uncertainty >= 0.0, "standard_uncertainty", standard_uncertainty, "a number not below 0");
  if (standard_uncertainty == 0.0) {
    const bool inside = (!limits.low || value >= *limits.low) && (!limits.high || value <= *limits.high);
    return inside ? 1.0 : 0.0;
  }
  const double below_high = limits.high ? normal_probability((*limits.high - value) / standard_uncertainty) : 1.0;
  const double below_low = limits.low ? normal_probability((*limits.low - value) / standard_uncertainty) : 0.0;
  return below_high - below_low;
}

}  // namespace rewound::measurement
