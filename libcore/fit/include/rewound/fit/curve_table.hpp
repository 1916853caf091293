// SPDX-License-Identifier: MIT
#pragma once

#include <cstddef>

namespace rewound::fit {

/// Most readings of a curve that lanes of registers take; longer ones are fitted one by one.
inline constexpr std::size_t most_readings = 16;

/// Readings of many curves in memory of the caller: tables of a row per curve and a column per reading, by rows.
///
/// A reading is absent where its voltage or its current is NaN, and left out where its weight is 0.
struct curve_table {
  std::size_t curves = 0;
  std::size_t readings = 0;                 ///< columns of a row
  const double* voltage_V = nullptr;        ///< above 0
  const double* current_A = nullptr;        ///< above 0
  const double* weight = nullptr;           ///< of the squared deviation in 1/A^2, 0 or more; null: uncertainties count
  const double* rated_voltage_V = nullptr;  ///< one a curve, above 0
  const double* voltage_u_V = nullptr;      ///< standard uncertainties, 0 or more; null: 0.5 % of the voltage
  const double* current_u_A = nullptr;      ///< standard uncertainties, above 0; null: 1 % of the current
  bool may_lack = true;                     ///< whether readings may be absent
};

/// What a prediction reads of fitted curves; see fit_table.
struct fitted_rows {
  const double* parameters = nullptr;
  const double* covariance = nullptr;
  const double* chi2 = nullptr;
  const int* degrees_of_freedom = nullptr;
  const double* mean_weight = nullptr;  ///< of the new reading; null: 1
};

/// Instead of 1 in `certified`: the parameters are the lowest minimum and chi2 is theirs, only the covariance wants
/// more digits; or they are a point beside the lowest minimum, and a search from there is enough.
inline constexpr unsigned char lacks_covariance = 2;
inline constexpr unsigned char near_the_lowest = 3;
/// Instead of 0: the curve has fewer readings than parameters, and no method finds it.
inline constexpr unsigned char too_few_readings = 4;

/// Where the answers go, in memory of the caller; p is the family's number of parameters.
struct fit_table {
  double* parameters = nullptr;       ///< a row of p a curve, in the order of fit::curve_family
  double* covariance = nullptr;       ///< p x p a curve, scaled by chi2 / (n - p); of fit_batch_with_errors not scaled
  double* chi2 = nullptr;             ///< one a curve; of a robust fit with Huber's final weights
  int* degrees_of_freedom = nullptr;  ///< one a curve: n - p
  /// 1 where the answer is certain. Elsewhere the curve's other numbers mean nothing, and it wants another method; see
  /// also lacks_covariance and too_few_readings. Without readings to spare, covariances scaled by chi2 are NaN.
  unsigned char* certified = nullptr;
  double* unit_variance = nullptr;  ///< of fit_batch_with_errors alone: mean relative variance of a reading, or 1
  double* mean_weight = nullptr;    ///< of the readings in use of a curve with weights, where it is asked for

  operator fitted_rows() const { return {parameters, covariance, chi2, degrees_of_freedom, nullptr}; }
};

}  // namespace rewound::fit
