// SPDX-License-Identifier: MIT
#pragma once

#include <cstddef>
#include <vector>

#include <Eigen/Core>

#include <rewound/checks/detail/fault_model.hpp>

namespace rewound::checks {

/// A measurement that was not made yet.
struct proposed_measurement {
  Eigen::MatrixXd observation;        ///< one row a value it would give, one column a deviation
  Eigen::MatrixXd noise;              ///< covariance of its values
  std::vector<Eigen::Index> telling;  ///< rows whose sum is called high or low
};

struct next_measurement_input {
  observed_deviations observed;
  fault_model model;
  std::vector<double> log_prior;  ///< of each cause, by everything but what is observed here; the healthy one's place
                                  ///< is `healthy_cause`
  std::size_t healthy_cause = 0;
  std::vector<proposed_measurement> proposed;
  std::size_t draws = 200;
};

/// What a proposed measurement would come to when it comes out high, as expected of a healthy machine, or low.
struct outcome_meaning {
  double probability = 0.0;
  std::size_t cause = 0;  ///< the likeliest one then
  double cause_probability = 0.0;
};

struct measurement_worth {
  double bits = 0.0;  ///< by which it is expected to lower the uncertainty about the cause
  outcome_meaning high, as_expected, low;
};

/// What is left of a difference of bits when all below a rounding of their sums counts as nothing: measurements that
/// tell nothing are then not put in order by it.
inline double told_bits(double difference) {
  constexpr double rounding = 1e-12;
  return difference > rounding ? difference : 0.0;
}

/// Uncertainty about the cause, in bits. Source: C. E. Shannon, Bell Syst. Tech. J. 27 (1948) 379-423.
double entropy_bits(const std::vector<double>& probabilities);

/// By how much each proposed measurement is expected to lower the uncertainty about the cause.
///
/// @throws base::error (precondition) for sizes that do not agree, or a covariance that is not positive definite
/// Source: D. V. Lindley, Ann. Math. Statist. 27 (1956) 986-1005 (expected information of an experiment).
std::vector<measurement_worth> next_measurement(const next_measurement_input& in);

}  // namespace rewound::checks

#ifndef REWOUND_COMPILED
#include <rewound/checks/impl/next_measurement.hpp>
#endif
