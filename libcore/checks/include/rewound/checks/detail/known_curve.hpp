// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <array>
#include <cstddef>
#include <numbers>
#include <optional>
#include <vector>

#include <Eigen/Core>

#include <rewound/fit/summary_block.hpp>
#include <rewound/measurement/instrument.hpp>

namespace rewound::checks {

/// What is known of one speed's curve of a channel before it is read, by good machines or an earlier visit:
/// ln value = level + slope z + curvature z^2 + shape (fit/summary_block.hpp).
struct known_curve {
  Eigen::VectorXd coefficients;
  Eigen::MatrixXd covariance;    ///< of these
  std::array<double, 3> spread;  ///< standard deviations of one machine or visit about them, of the parabola
};

/// The digits of a meter's accuracy are mostly an error of its zero, which a test's readings share; so much of them is
/// each reading's own (common practice, no source).
inline constexpr double own_share = 0.3;

/// Standard uncertainty, in the meter's unit, by which its readings of one test scatter about each other: their own
/// share of its digits, never below that of the rounding.
template <class Quantity>
double own_digits(const measurement::instrument<Quantity>& meter) {
  const double rounding = 0.5 / std::numbers::sqrt3 * meter.resolution.value();
  return std::max(own_share * meter.digit_uncertainty().value(), rounding);
}

/// What one meter showed beside volts on every speed. Values below or equal to 0 were not read.
struct channel_readings {
  fit::channel what = fit::channel::current;
  double own_uncertainty = 0.0;                   ///< by which readings of one test scatter, in the unit of the values
  std::vector<std::vector<double>> values;        ///< by run, one a reading of that run, in their order
  std::vector<std::optional<known_curve>> known;  ///< by run; may be shorter
};

}  // namespace rewound::checks
