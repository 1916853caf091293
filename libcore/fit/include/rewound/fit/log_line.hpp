// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>
#include <utility>
#include <vector>

#include <rewound/fit/curve_reading.hpp>

namespace rewound::fit {

/// Intercept and slope of ln I over ln x by plain least squares.
inline std::pair<double, double> log_line(const std::vector<curve_reading>& readings) {
  double mean_z = 0.0;
  double mean_log = 0.0;
  for (const auto& reading : readings) {
    mean_z += std::log(reading.x) / static_cast<double>(readings.size());
    mean_log += std::log(reading.current) / static_cast<double>(readings.size());
  }
  double square = 0.0;
  double product = 0.0;
  for (const auto& reading : readings) {
    const double z = std::log(reading.x) - mean_z;
    square += z * z;
    product += z * std::log(reading.current);
  }
  const double n = square > 0.0 ? product / square : 1.0;
  return {mean_log - n * mean_z, n};
}

}  // namespace rewound::fit
