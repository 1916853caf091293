// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>
#include <cstddef>
#include <string>
#include <vector>

#include <rewound/base/expect.hpp>
#include <rewound/measurement/distribution.hpp>
#include <rewound/measurement/uncertain.hpp>

namespace rewound::checks {

/// One speed's current now and in the expectation, at one voltage, as logarithms with the standard uncertainties
/// that are independent between speeds and visits.
struct level_speed {
  std::string speed;
  double log_now;
  double log_expected;
  double log_uncertainty_now;
  double log_uncertainty_expected;
};

struct level_input {
  std::vector<level_speed> speeds;
  double common_uncertainty;  ///< relative, alike on all speeds: meter gains that do not cancel, drift between visits
  double speed_uncertainty;   ///< relative, different from speed to speed: drift between visits
};

struct level_result {
  std::vector<measurement::uncertain<double>> log_ratio;  ///< ln(now / expected) per speed, everything included
  double p_value;  ///< of the joint test that no speed differs: chi-squared with as many degrees of freedom as speeds
};

namespace detail {

/// A symmetric matrix of a handful of rows, of which only the elements on and below the diagonal are used.
using lower_rows = std::vector<std::vector<double>>;

/// d^T C^-1 d by Cholesky's factor of C. Plain loops: a motor has a few speeds, and Eigen's factorisation was measured
/// to cost four seconds of compile time per translation unit.
///
/// @throws base::error (precondition) unless C is positive definite
/// Source: Golub, Van Loan, "Matrix Computations", 4th ed., section 4.2.
inline double joint_chi_squared(lower_rows covariance, std::vector<double> difference) {
  double sum = 0.0;
  for (std::size_t i = 0; i < difference.size(); ++i) {
    auto& row = covariance[i];
    for (std::size_t j = 0; j <= i; ++j) {
      for (std::size_t k = 0; k < j; ++k) row[j] -= row[k] * covariance[j][k];
      if (j < i) row[j] /= covariance[j][j];
    }
    base::expect(!(row[i] <= 0.0), "covariance", 0.0, "a positive definite matrix");
    row[i] = std::sqrt(row[i]);
    for (std::size_t k = 0; k < i; ++k) difference[i] -= row[k] * difference[k];
    difference[i] /= row[i];
    sum += difference[i] * difference[i];
  }
  return sum;
}

}  // namespace detail

/// Compares the currents of all speeds with what was expected of them, singly and jointly.
///
/// @throws base::error (precondition) for no speeds or a covariance that is not positive definite
inline level_result level(const level_input& in) {
  const std::size_t n = in.speeds.size();
  base::expect(n >= 1, "speeds", static_cast<double>(n), "one speed or more");
  std::vector<double> difference(n);
  detail::lower_rows covariance(n, std::vector<double>(n, in.common_uncertainty * in.common_uncertainty));
  level_result out;
  for (std::size_t i = 0; i < n; ++i) {
    const auto& speed = in.speeds[i];
    difference[i] = speed.log_now - speed.log_expected;
    const double own = std::hypot(speed.log_uncertainty_now, speed.log_uncertainty_expected, in.speed_uncertainty);
    covariance[i][i] += own * own;
    out.log_ratio.push_back({difference[i], std::sqrt(covariance[i][i])});
  }
  const double chi_squared = detail::joint_chi_squared(covariance, difference);
  out.p_value = measurement::chi_squared_tail(chi_squared, static_cast<double>(n));
  return out;
}

}  // namespace rewound::checks
