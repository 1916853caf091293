// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <vector>

#include <Eigen/Core>

#include <rewound/fit/curve_reading.hpp>

namespace rewound::fit {

/// One curve's readings, all present and above 0.
struct curve_readings {
  Eigen::VectorXd x;        ///< voltage over rated voltage
  Eigen::VectorXd current;  ///< ampere
  /// With weights: of the squared deviation in 1/A^2, above 0. Without: empty.
  Eigen::VectorXd weight;
  Eigen::VectorXd relative_u_x;        ///< without weights; with them empty
  Eigen::VectorXd relative_u_current;  ///< without weights; with them empty

  bool weighted() const { return weight.size() == x.size() && relative_u_x.size() == 0; }

  /// Different voltages.
  Eigen::Index voltages() const {
    std::vector<double> sorted(x.begin(), x.end());
    std::sort(sorted.begin(), sorted.end());
    return std::unique(sorted.begin(), sorted.end()) - sorted.begin();
  }
};

/// Readings with their uncertainties, one by one, as columns.
inline curve_readings columns_of(const std::vector<curve_reading>& readings) {
  const auto n = static_cast<Eigen::Index>(readings.size());
  curve_readings out{Eigen::VectorXd(n), Eigen::VectorXd(n), {}, Eigen::VectorXd(n), Eigen::VectorXd(n)};
  for (Eigen::Index i = 0; i < n; ++i) {
    const auto& reading = readings[static_cast<std::size_t>(i)];
    out.x[i] = reading.x;
    out.current[i] = reading.current;
    out.relative_u_x[i] = reading.relative_u_x;
    out.relative_u_current[i] = reading.relative_u_current;
  }
  return out;
}

/// Readings without weights, one by one.
inline std::vector<curve_reading> rows_of(const curve_readings& readings) {
  std::vector<curve_reading> out;
  for (Eigen::Index i = 0; i < readings.x.size(); ++i)
    out.push_back({readings.x[i], readings.current[i], readings.relative_u_x[i], readings.relative_u_current[i]});
  return out;
}

}  // namespace rewound::fit
