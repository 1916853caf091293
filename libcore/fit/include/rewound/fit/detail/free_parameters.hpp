// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>
#include <cstddef>
#include <vector>

#include <rewound/fit/curve_family.hpp>
#include <rewound/fit/curve_reading.hpp>
#include <rewound/fit/detail/plain_curve.hpp>
#include <rewound/fit/detail/power_bounds.hpp>
#include <rewound/fit/log_line.hpp>

// The general search runs in parameters that may take any value, and covariances are formed there: logarithms of what
// must be above 0, and a logistic of the magnetising power between its bounds. Without bounds b < 0 or m near 1 fit
// anything and mean nothing.
namespace rewound::fit::detail {

/// The family's own parameters, and how each changes with its free one.
struct natural_curve {
  parameter_array parameters;
  parameter_array slope;
};

inline natural_curve natural_of(curve_family family, const parameter_array& free) {
  natural_curve out{free, {}};
  out.slope.fill(1.0);
  if (family == curve_family::log_quadratic) return out;
  out.parameters[0] = out.slope[0] = std::exp(free[0]);
  if (!magnetising_kind(family)) return out;
  for (std::size_t j = 1; j < static_cast<std::size_t>(parameter_count(family)); ++j) {
    if (j != 2) {
      out.parameters[j] = out.slope[j] = std::exp(free[j]);
      continue;
    }
    constexpr double span = highest_power - lowest_power;
    const double part = 1.0 / (1.0 + std::exp(-free[j]));
    out.parameters[j] = lowest_power + span * part;
    out.slope[j] = span * part * (1.0 - part);
  }
  return out;
}

/// Of a magnetising family, its power inside the bounds.
inline parameter_array free_of(curve_family family, const parameter_array& natural) {
  parameter_array out = {};
  for (std::size_t j = 0; j < static_cast<std::size_t>(parameter_count(family)); ++j)
    out[j] = j == 2 ? std::log((natural[j] - lowest_power) / (highest_power - natural[j])) : std::log(natural[j]);
  return out;
}

/// Where the search starts: the straight line in logarithms, and an even share for what a line does not show.
inline parameter_array free_start(curve_family family, const std::vector<curve_reading>& readings) {
  const auto [level, slope] = log_line(readings);
  parameter_array start = {};
  start[0] = level;
  if (family == curve_family::power || family == curve_family::log_quadratic) start[1] = slope;
  if (!magnetising_kind(family)) return start;
  start[0] = level + std::log(0.6);
  start[1] = level + std::log(0.2);
  if (family == curve_family::magnetising_load) start[3] = start[4] = level + std::log(0.3);
  start[2] = std::log((4.0 - lowest_power) / (highest_power - 4.0));
  return start;
}

}  // namespace rewound::fit::detail
