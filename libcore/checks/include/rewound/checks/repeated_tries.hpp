// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cmath>
#include <optional>
#include <vector>

#include <rewound/base/expect.hpp>
#include <rewound/measurement/distribution.hpp>

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
inline std::optional<repeated_tries_result> repeated_tries(const repeated_tries_input& in) {
  base::expect(in.standard_uncertainty >= 0.0, "standard_uncertainty", in.standard_uncertainty, "a number not below 0");
  const double n = static_cast<double>(in.values.size());
  if (in.values.size() < 3) return std::nullopt;
  const double middle = (n - 1.0) / 2.0;
  double mean = 0.0;
  for (const double value : in.values) mean += value / n;
  double sxx = 0.0;
  double sxy = 0.0;
  double syy = 0.0;
  for (std::size_t i = 0; i < in.values.size(); ++i) {
    const double x = static_cast<double>(i) - middle;
    const double y = in.values[i] - mean;
    sxx += x * x;
    sxy += x * y;
    syy += y * y;
  }
  const double slope = sxy / sxx;
  const double scatter = std::max(0.0, syy - slope * sxy) / (n - 2.0);
  const double u = std::sqrt(std::max(scatter, in.standard_uncertainty * in.standard_uncertainty) / sxx);
  return repeated_tries_result{slope, measurement::coverage_factor(0.95, n - 2.0) * u};
}

}  // namespace rewound::checks
