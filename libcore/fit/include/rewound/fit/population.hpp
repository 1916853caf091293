// SPDX-License-Identifier: MIT
#pragma once

#include <cstddef>

#include <Eigen/Core>

namespace rewound::fit {

/// What one unit's readings say of its coefficients: the normal equations of its weighted linear model, which are
/// all of the readings that matter when errors are normal. A unit that leaves coefficients open has a singular one.
struct unit_information {
  Eigen::MatrixXd precision;  ///< X^T R^-1 X
  Eigen::VectorXd weighted;   ///< X^T R^-1 y
};

/// A prior for the covariance between units: the covariance believed in, and how many units that belief is worth.
struct spread_prior {
  Eigen::MatrixXd covariance;
  double weight;
};

/// What is believed of the population's mean before any unit is seen.
struct mean_prior {
  Eigen::VectorXd mean;
  Eigen::VectorXd deviation;  ///< standard deviations, large where nothing is believed
};

/// Coefficients of a population of units: random effects, coefficients of unit k ~ normal(mean, between).
struct population {
  Eigen::VectorXd mean;
  Eigen::MatrixXd mean_covariance;
  Eigen::MatrixXd between;
  double degrees_of_freedom;  ///< of the between-unit covariance, prior included; infinite with one unit
  std::size_t units;
};

}  // namespace rewound::fit
