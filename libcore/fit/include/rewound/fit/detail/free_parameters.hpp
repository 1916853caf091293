// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>
#include <vector>

#include <Eigen/Core>

#include <rewound/fit/curve_family.hpp>
#include <rewound/fit/curve_reading.hpp>
#include <rewound/fit/detail/power_bounds.hpp>
#include <rewound/fit/log_line.hpp>

// The search runs in parameters that may take any value: logarithms of what must be above 0, and a logistic of the
// magnetising power between its bounds. Without bounds b < 0 or m near 1 fit anything and mean nothing.
namespace rewound::fit::detail {

/// The family's own parameters from the free ones.
inline Eigen::VectorXd natural_parameters(curve_family family, const Eigen::VectorXd& free) {
  Eigen::VectorXd out = free;
  if (family == curve_family::log_quadratic) return out;
  out[0] = std::exp(free[0]);
  if (!magnetising_kind(family)) return out;
  for (Eigen::Index i = 1; i < free.size(); ++i)
    out[i] = i == 2 ? lowest_power + (highest_power - lowest_power) / (1.0 + std::exp(-free[i])) : std::exp(free[i]);
  return out;
}

/// d natural / d free, one a parameter.
inline Eigen::VectorXd natural_slope(curve_family family, const Eigen::VectorXd& free) {
  const Eigen::VectorXd natural = natural_parameters(family, free);
  Eigen::VectorXd out = Eigen::VectorXd::Ones(free.size());
  if (family == curve_family::log_quadratic) return out;
  out[0] = natural[0];
  if (!magnetising_kind(family)) return out;
  const double span = highest_power - lowest_power;
  for (Eigen::Index i = 1; i < free.size(); ++i)
    out[i] = i == 2 ? (natural[i] - lowest_power) * (highest_power - natural[i]) / span : natural[i];
  return out;
}

/// Where the search starts: the straight line in logarithms, and an even share for what a line does not show.
inline Eigen::VectorXd free_start(curve_family family, const std::vector<curve_reading>& readings) {
  const auto [level, slope] = log_line(readings);
  Eigen::VectorXd start = Eigen::VectorXd::Zero(parameter_count(family));
  start[0] = level;
  if (family == curve_family::power || family == curve_family::log_quadratic) start[1] = slope;
  if (!magnetising_kind(family)) return start;
  start[0] = level + std::log(0.6);
  start[1] = level + std::log(0.2);
  if (family == curve_family::magnetising_load) {
    start[3] = level + std::log(0.3);
    start[4] = level + std::log(0.3);
  }
  start[2] = std::log((4.0 - lowest_power) / (highest_power - 4.0));
  return start;
}

}  // namespace rewound::fit::detail
