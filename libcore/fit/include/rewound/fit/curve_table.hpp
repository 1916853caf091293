// SPDX-License-Identifier: MIT
#pragma once

#include <cstddef>

namespace rewound::fit {

/// Most readings of a curve that fit_batch takes.
inline constexpr std::size_t most_readings = 16;

/// Readings of many curves in memory of the caller: tables of a row per curve and a column per reading, by rows.
///
/// A reading is absent where its voltage or its current is NaN, and left out where its weight is 0.
struct curve_table {
  std::size_t curves = 0;
  std::size_t readings = 0;                 ///< columns of a row
  const double* voltage_V = nullptr;        ///< above 0
  const double* current_A = nullptr;        ///< above 0
  const double* weight = nullptr;           ///< of the squared deviation in 1/A^2, 0 or more
  const double* rated_voltage_V = nullptr;  ///< one a curve, above 0
};

/// Where the answers go, in memory of the caller; p is the family's number of parameters.
struct fit_table {
  double* parameters = nullptr;       ///< a row of p a curve, in the order of fit::curve_family
  double* covariance = nullptr;       ///< p x p a curve, scaled by chi2 / (n - p)
  double* chi2 = nullptr;             ///< one a curve; of a robust fit with Huber's final weights
  int* degrees_of_freedom = nullptr;  ///< one a curve: n - p
  /// 1 where the answer is certain. Elsewhere the curve's other numbers mean nothing, and it wants another method.
  unsigned char* certified = nullptr;
};

}  // namespace rewound::fit
