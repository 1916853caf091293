// SPDX-License-Identifier: MIT
#pragma once

#include <cstddef>

namespace rewound::fit {

/// Where fitted curves are asked for their current.
struct prediction_points {
  const double* voltage_V = nullptr;        ///< above 0
  std::size_t count = 0;                    ///< voltages a curve
  bool shared = false;                      ///< one row of voltages for all curves, or one a curve
  const double* rated_voltage_V = nullptr;  ///< one a curve
};

/// Where the answers go: tables of a row per curve and a column per voltage, in ampere.
struct prediction_table {
  double* value_A = nullptr;
  double* low_A = nullptr;
  double* high_A = nullptr;
};

}  // namespace rewound::fit
