// SPDX-License-Identifier: MIT
#pragma once

#include <cstddef>
#include <vector>

#include <rewound/checks/detail/fault_model.hpp>

namespace rewound::checks {

/// Readings and what they are weighed under.
struct fault_likelihood_input {
  observed_deviations observed;
  fault_model model;
  std::size_t draws = 600;  ///< healthy machines drawn for the p-value; 0: none is found
  /// So many of them tell whether the others are needed: not where a third of healthy machines look as faulty. 0: all
  /// are drawn.
  std::size_t first = 0;
};

struct fault_likelihood_result {
  /// ln of each cause's average density over the healthy density; minus infinity for a cause without alternative.
  std::vector<double> log_evidence;
  double log_unknown = 0.0;  ///< the same of a fault outside the list, where one is weighed
  double log_ratio = 0.0;    ///< of all faults, unknown ones included, over healthy
  double p_value = 1.0;      ///< share of healthy machines whose ratio is as large
};

/// Weighs a machine's deviations under healthy and faulty alternatives: how much more probable each cause makes them,
/// and how rarely a healthy machine looks as faulty.
///
/// The p-value is that of the likelihood ratio of all faults over health, found by drawing healthy machines.
///
/// @throws base::error (precondition) for sizes that do not agree, values that are not finite, an empty list of healthy
///         designs, or a covariance that is not positive definite
/// Source: J. Neyman, E. S. Pearson, Phil. Trans. R. Soc. A 231 (1933) 289-337 (ratio of likelihoods); mixtures over
/// designs and severities as in any Bayesian comparison of hypotheses.
fault_likelihood_result fault_likelihood(const fault_likelihood_input& in);

}  // namespace rewound::checks

#ifndef REWOUND_COMPILED
#include <rewound/checks/impl/fault_likelihood.hpp>
#endif
