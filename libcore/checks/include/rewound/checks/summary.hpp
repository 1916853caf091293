// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cmath>
#include <string>
#include <vector>

#include <Eigen/Core>

#include <rewound/fit/curve_reading.hpp>
#include <rewound/fit/linear.hpp>
#include <rewound/fit/log_line.hpp>
#include <rewound/fit/summary_block.hpp>

namespace rewound::checks {

using fit::channel;
using fit::summary_block;

struct summary_input {
  std::string speed;
  channel what = channel::current;
  std::vector<fit::curve_reading> readings;  ///< of any of the channels; `current` holds the value read
};

namespace detail {

/// How well three coefficients in logarithms follow a real curve between its readings (common practice, no source).
inline constexpr double basis_floor = 0.003;

inline Eigen::VectorXd basis(double x) {
  const double z = std::log(x);
  Eigen::VectorXd out(3);
  out << 1.0, z, z * z;
  return out;
}

inline int determined(const std::vector<fit::curve_reading>& readings) {
  const auto [low, high] = std::minmax_element(readings.begin(), readings.end(),
                                               [](const auto& a, const auto& b) { return a.x < b.x; });
  const double apart = std::log(high->x / low->x);
  return apart > 3.0 * std::hypot(low->relative_u_x, high->relative_u_x, 0.005) ? 2 : 1;
}

/// Square of the factor by which readings scatter more about their own curve than their meters explain, at least 1.
inline double scatter(const std::vector<fit::curve_reading>& readings, const Eigen::MatrixXd& design,
                      const Eigen::VectorXd& target, const Eigen::VectorXd& weights) {
  if (readings.size() < 5) return 1.0;
  const auto fitted = fit::fit_linear(design, target, weights);
  if (!fitted.usable()) return 1.0;
  constexpr double known = 4.0;  // the accuracy statement counts as four degrees of freedom; see fit/current_curve.hpp
  return std::max(1.0, (known + fitted.chi2) / (known + static_cast<double>(fitted.degrees_of_freedom)));
}

}  // namespace detail

/// Reduces one speed's readings of one channel to normal equations.
///
/// @throws base::error (precondition) without readings
inline summary_block summarise(const summary_input& in) {
  base::expect(!in.readings.empty(), "readings", 0.0, "at least one reading");
  const auto n = static_cast<Eigen::Index>(in.readings.size());
  const double slope = fit::log_line(in.readings).second;
  Eigen::MatrixXd design(n, 3);
  Eigen::VectorXd target(n);
  Eigen::VectorXd weights(n);
  for (Eigen::Index i = 0; i < n; ++i) {
    const auto& reading = in.readings[static_cast<std::size_t>(i)];
    design.row(i) = detail::basis(reading.x).transpose();
    target[i] = std::log(reading.current);
    const double u = std::hypot(reading.relative_u_current, slope * reading.relative_u_x, detail::basis_floor);
    weights[i] = 1.0 / (u * u);
  }
  weights /= detail::scatter(in.readings, design, target, weights);
  const Eigen::MatrixXd weighted = weights.asDiagonal() * design;
  return {in.speed, in.what, {design.transpose() * weighted, weighted.transpose() * target},
          detail::determined(in.readings), static_cast<int>(n)};
}

}  // namespace rewound::checks
