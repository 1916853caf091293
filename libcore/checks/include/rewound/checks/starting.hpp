// SPDX-License-Identifier: MIT
#pragma once

#include <optional>

#include <rewound/measurement/uncertain.hpp>

namespace rewound::checks {

struct starting_input {
  int attempts;              ///< at least 1
  int successes;             ///< 0 to attempts
  double confidence = 0.95;  ///< of every statement, from 0.5 up to below 1
  double claimed = 0.95;     ///< reliability whose proof is counted out, above 0 and below 1
};

struct starting_result {
  double share;            ///< successes / attempts
  double reliability_low;  ///< the probability of starting is at least this, at the confidence, one-sided
  measurement::interval<double> reliability;  ///< two-sided at the confidence
  int clean_starts_needed;  ///< starts without failure that would prove the claimed reliability, from nothing
  /// Without failure, on top of those made, to prove it; 0 when it is proved, absent above ten million.
  std::optional<int> further_starts;
};

/// What a number of start attempts proves (Clopper-Pearson; see measurement/binomial.hpp). The attempts are taken as
/// independent with one probability: a machine that warms up or wears from try to try is not like that.
///
/// @throws base::error (precondition) for a claim or a confidence outside its range
starting_result starting(const starting_input& in);

}  // namespace rewound::checks

#ifndef REWOUND_COMPILED
#include <rewound/checks/impl/starting.hpp>
#endif
