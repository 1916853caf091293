// SPDX-License-Identifier: MIT
#pragma once

#include <array>
#include <vector>

#include <Eigen/Core>

#include <rewound/measurement/uncertain.hpp>

namespace rewound::checks {

/// Friction of one machine: dw/dt = -(constant + linear w + quadratic w^2), w in rad/s, t in s.
struct machine_friction {
  std::array<double, 3> terms{};  ///< rad/s2, 1/s, 1/rad
  Eigen::Matrix3d covariance = Eigen::Matrix3d::Zero();
};

/// Decelerations at one speed: all terms together, then each. rad/s2
std::array<measurement::uncertain<double>, 4> decelerations_at(const machine_friction& machine, double speed);

struct friction_level_input {
  std::vector<machine_friction> good;                 ///< at least one
  std::array<measurement::uncertain<double>, 4> now;  ///< this machine's, as of decelerations_at; rad/s2
  double speed;                                       ///< rad/s, at which all are compared
  double total_spread;  ///< believed standard deviation of all friction between good machines, over its mean
  double term_spread;   ///< and of one term's part, over the mean of all friction
  double prior_weight;  ///< how many machines that belief is worth
  double alarm;         ///< probability that a good machine lies above some limit; shared among the four
};

/// One deceleration beside good machines, as shares of their mean of all friction.
struct friction_excess {
  double value;                 ///< above their mean
  double standard_uncertainty;  ///< of this machine's own
  double limit;                 ///< what a further good machine stays below
};

struct friction_level_result {
  double expected;                        ///< rad/s2, mean of all friction of good machines
  std::array<friction_excess, 4> excess;  ///< all together, constant, linear, quadratic
};

/// Whether a machine coasts down with more friction than good machines of its model, and which term it lies in.
///
/// Mean and spread of each deceleration come from the good machines with a prior on the spread (fit/pooling.hpp): few
/// machines keep the prior's, many show their own. Terms at 0 are taken as they were fitted, with their uncertainty.
/// The tachometers' gains stay out: tenths of a percent beside spreads of ten.
///
/// @throws base::error (precondition) without good machines, or for good machines without friction
friction_level_result friction_level(const friction_level_input& in);

}  // namespace rewound::checks

#ifndef REWOUND_COMPILED
#include <rewound/checks/impl/friction_level.hpp>
#endif
