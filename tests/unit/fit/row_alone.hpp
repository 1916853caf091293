// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>
#include <cstddef>
#include <vector>

#include <Eigen/Core>

#include <rewound/fit/curve_readings.hpp>
#include <rewound/fit/curve_table.hpp>

namespace rewound::testing {

/// A row of a table as readings of a curve by itself, absent ones left out; without weights, uncertain by 0.5 % of the
/// voltage and 1 % of the current.
inline fit::curve_readings row_alone(const fit::curve_table& table, std::size_t row) {
  std::vector<double> x, i, w;
  for (std::size_t at = table.readings * row; at < table.readings * (row + 1); ++at) {
    if (std::isnan(table.current_A[at])) continue;
    x.push_back(table.voltage_V[at] / table.rated_voltage_V[row]);
    i.push_back(table.current_A[at]);
    if (table.weight) w.push_back(table.weight[at]);
  }
  const auto column = [](const std::vector<double>& from) {
    return Eigen::VectorXd(Eigen::Map<const Eigen::VectorXd>(from.data(), static_cast<Eigen::Index>(from.size())));
  };
  const Eigen::VectorXd ones = Eigen::VectorXd::Ones(static_cast<Eigen::Index>(x.size()));
  if (table.weight) return {column(x), column(i), column(w), {}, {}};
  return {column(x), column(i), {}, 0.005 * ones, 0.01 * ones};
}

}  // namespace rewound::testing
