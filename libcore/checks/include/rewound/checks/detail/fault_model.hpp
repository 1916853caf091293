// SPDX-License-Identifier: MIT
#pragma once

#include <cstddef>
#include <limits>
#include <vector>

#include <Eigen/Core>

namespace rewound::checks {

/// One way a machine may be: what its deviations are on average, and what it is worth.
struct alternative {
  std::size_t cause = 0;  ///< index of the cause it belongs to; of no meaning among healthy ones
  double weight = 1.0;    ///< prior share, above 0; shares need not sum to 1 over a list
  Eigen::VectorXd mean;
  std::size_t design = 0; ///< index of the design it was worked out from
};

/// What was read of a machine: values = observation times deviations + noise.
struct observed_deviations {
  Eigen::MatrixXd observation;  ///< one row a value, one column a deviation
  Eigen::VectorXd values;
  Eigen::MatrixXd noise;        ///< covariance of what the readings themselves are uncertain by
};

/// What healthy and faulty machines deviate by from what is expected, all in the same coefficients.
struct fault_model {
  Eigen::MatrixXd covariance;        ///< of a machine about its alternative
  double degrees_of_freedom = std::numeric_limits<double>::infinity();  ///< with which the covariance is known
  std::vector<alternative> healthy;  ///< designs it may be of; one of mean 0 beside good machines
  std::vector<alternative> faulty;
  Eigen::MatrixXd unknown;           ///< covariance that a fault outside the list adds; empty: none is weighed
  double unknown_share = 0.0;        ///< of such a fault among all faults, at least 0 and below 1
  std::size_t causes = 0;            ///< number of causes
};

}  // namespace rewound::checks
