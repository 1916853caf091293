// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>
#include <optional>
#include <vector>

namespace rewound::checks {

/// One quantity read at try after try, in the order of the tries.
struct repeated_tries_input {
  std::vector<double> values;
  double standard_uncertainty;  ///< of one reading, independent from try to try, in the unit of the values
};

/// Straight line of the values over the number of the try.
struct repeated_tries_result {
  double slope;       ///< per try
  double half_width;  ///< of its 95 % interval

  bool certain() const { return std::abs(slope) > half_width; }
};

/// Whether a value drifts from try to try: slope by least squares, its interval by Student's t from the scatter about
/// the line, never taken smaller than the meter's own uncertainty.
///
/// @return absent with fewer than three values, which have no scatter about a line
/// @throws base::error (precondition) for a negative uncertainty
std::optional<repeated_tries_result> repeated_tries(const repeated_tries_input& in);

}  // namespace rewound::checks

#ifndef REWOUND_COMPILED
#include <rewound/checks/impl/repeated_tries.hpp>
#endif
