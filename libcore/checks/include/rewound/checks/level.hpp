// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>
#include <string>
#include <vector>

#include <Eigen/Cholesky>

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

/// Compares the currents of all speeds with what was expected of them, singly and jointly.
///
/// @throws base::error (precondition) for no speeds or a covariance that is not positive definite
inline level_result level(const level_input& in) {
  const auto n = static_cast<Eigen::Index>(in.speeds.size());
  base::expect(n >= 1, "speeds", static_cast<double>(n), "one speed or more");
  Eigen::VectorXd difference(n);
  Eigen::MatrixXd covariance =
      Eigen::MatrixXd::Constant(n, n, in.common_uncertainty * in.common_uncertainty);
  level_result out;
  for (Eigen::Index i = 0; i < n; ++i) {
    const auto& speed = in.speeds[static_cast<std::size_t>(i)];
    difference[i] = speed.log_now - speed.log_expected;
    const double own = std::hypot(speed.log_uncertainty_now, speed.log_uncertainty_expected, in.speed_uncertainty);
    covariance(i, i) += own * own;
    out.log_ratio.push_back({difference[i], std::sqrt(covariance(i, i))});
  }
  const Eigen::LLT<Eigen::MatrixXd> factor(covariance);
  base::expect(factor.info() == Eigen::Success, "covariance", 0.0, "a positive definite matrix");
  const double chi_squared = factor.matrixL().solve(difference).squaredNorm();
  out.p_value = measurement::chi_squared_tail(chi_squared, static_cast<double>(n));
  return out;
}

}  // namespace rewound::checks
