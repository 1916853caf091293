// SPDX-License-Identifier: MIT
#pragma once

#include <vector>

#include <Eigen/Core>

#include <rewound/fit/mean_shape.hpp>
#include <rewound/measurement/uncertain.hpp>

namespace rewound::checks {

/// One block of a new machine beside the population of good ones, in the population's order of coefficients.
struct block_comparison {
  fit::unit_information information;  ///< of the new machine, as checks/summary.hpp makes it
  fit::mean_shape shape;              ///< of the good machines' curves, beyond a parabola
  int tested = 0;                     ///< 1: level only, 2: level and slope
  Eigen::Index place = 0;             ///< where the block's three coefficients begin in the population
  double gain_uncertainty = 0.0;      ///< relative, of the level: meter gains that do not cancel
  int gain_group = 0;                 ///< blocks of one group are read by one meter and share its gain error
};

struct reference_level_input {
  std::vector<block_comparison> blocks;
  fit::population population;
};

struct reference_level_result {
  std::vector<measurement::uncertain<double>>
      log_level;                         ///< ln(machine / mean of good ones) at x = 1; measurement and mean
  std::vector<double> log_level_spread;  ///< standard deviation a healthy machine's level shows, all included
  std::vector<double> log_level_own;     ///< standard uncertainty that the machine's own readings leave
  Eigen::MatrixXd level_covariance;      ///< of the log_level: readings, gains and the mean
  double p_value = 1.0;                  ///< test over all blocks that the machine is one of the population
  int tested = 0;                        ///< coefficients in the joint test
};

/// Compares a machine with a population of good ones: level of each block, and one joint test over all blocks.
reference_level_result reference_level(const reference_level_input& in);

}  // namespace rewound::checks

#ifndef REWOUND_COMPILED
#include <rewound/checks/impl/reference_level.hpp>
#endif
