// SPDX-License-Identifier: MIT
#pragma once

#include <array>
#include <limits>
#include <optional>
#include <string_view>
#include <vector>

#include <Eigen/Core>

#include <rewound/fit/least_squares.hpp>
#include <rewound/fit/linear.hpp>
#include <rewound/measurement/uncertain.hpp>
#include <rewound/units/quantity.hpp>

namespace rewound::checks {

/// dw/dt = -(constant + linear w + quadratic w^2), with w in rad/s and t in s: bearing, viscous drag, windage, each
/// over the inertia.
struct friction_terms {
  double constant = 0.0;   ///< rad/s2
  double linear = 0.0;     ///< 1/s
  double quadratic = 0.0;  ///< 1/rad
};

/// Speed after `time`; negative past the stop, not a number where the curve has run off.
///
/// w = w0 - 2 P T / (1 + P' T) with P the deceleration at w0 and P' its slope, T = tan(r t / 2) / r and
/// r^2 = 4 c0 c2 - c1^2: one form for real, imaginary and vanishing r (our own rearrangement of the closed solutions;
/// reference/oracles/running/coast_down.csv).
double coasting_speed(double initial, const friction_terms& terms, double time);

/// Time from `initial` to standstill; infinite without a constant term.
double coasting_time(double initial, const friction_terms& terms);

struct coast_down_reading {
  units::duration time;
  units::angular_velocity speed;
};

struct coast_down_input {
  std::vector<coast_down_reading> readings;           ///< times rising; those at standstill are left out
  units::angular_velocity digit_uncertainty;          ///< standard, of one speed
  units::duration time_uncertainty;                   ///< standard, of one time
  std::optional<units::angular_velocity> compare_at;  ///< speed at which the terms are told; else the first reading's
  bool absolute = false;  ///< the uncertainties hold whatever the readings' scatter: no `scale`
};

enum class coast_down_status {
  fitted,
  too_few_readings,  ///< fewer than three in motion
  not_slowing        ///< the speed rises, or does not fall beyond what the tachometer explains
};

constexpr std::string_view name(coast_down_status status) {
  switch (status) {
    case coast_down_status::fitted: return "fitted";
    case coast_down_status::too_few_readings: return "too_few_readings";
    case coast_down_status::not_slowing: return "not_slowing";
  }
  return "unknown";
}

/// Deceleration at one speed and what each term has in it.
struct coast_down_result {
  coast_down_status status = coast_down_status::too_few_readings;
  friction_terms terms;
  double initial = 0.0;                                   ///< fitted speed at the first reading, rad/s
  double compare_at = 0.0;                                ///< rad/s
  measurement::uncertain<double> deceleration{};          ///< rad/s2 at compare_at
  std::array<measurement::uncertain<double>, 3> parts{};  ///< constant, linear, quadratic part of it
  std::array<bool, 3> fitted{};  ///< false: the term was not needed and is 0 (its part's uncertainty says within what)
  /// Of the three terms in their units, terms at 0 among them; infinite where the readings cannot tell them apart.
  Eigen::Matrix3d covariance = Eigen::Matrix3d::Constant(std::numeric_limits<double>::infinity());
  double stop_s = 0.0;  ///< from compare_at to standstill; infinite without a constant term
  double chi2 = 0.0;
  double scale = 1.0;
};

/// Coast-down: the three friction terms from speed against time, none below 0, by least squares on the speeds
/// themselves. Without the inertia only decelerations are known: ratios of torques and the shape; the inertia times
/// each part is its torque.
///
/// @throws base::error (precondition) for times that do not rise or an uncertainty not above 0
coast_down_result coast_down(const coast_down_input& in);

/// What a friction term may be, in its own unit.
struct term_interval {
  double low = std::numeric_limits<double>::quiet_NaN();
  double high = std::numeric_limits<double>::quiet_NaN();
};

/// Profile intervals of the constant, linear and quadratic term: every value at which the least sum of squares with the
/// term held there, no other below 0, exceeds the least of all by no more than (quantile times scale)^2, the quantile
/// being that of the normal distribution. An end at the bound stands exactly on 0; infinite where the readings set no
/// end. NaN where nothing was fitted.
///
/// @param found  what coast_down says of the same readings
/// @throws base::error (precondition) for a level outside (0, 1)
/// Source: D. M. Bates, D. G. Watts, Nonlinear Regression Analysis and Its Applications (1988), 6.1 (from memory,
/// unverified).
std::array<term_interval, 3> coast_down_profile(const coast_down_input& in, const coast_down_result& found,
                                                double level);

}  // namespace rewound::checks

#ifndef REWOUND_COMPILED
#include <rewound/checks/impl/coast_down.hpp>
#endif
