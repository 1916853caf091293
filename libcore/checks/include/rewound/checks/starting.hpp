// SPDX-License-Identifier: MIT
#pragma once

#include <rewound/measurement/binomial.hpp>

namespace rewound::checks {

struct starting_input {
  int attempts;   ///< at least 1
  int successes;  ///< 0 to attempts
};

struct starting_result {
  double share;             ///< successes / attempts
  double reliability_low;   ///< the probability of starting is at least this, at 95 % confidence, one-sided
  int attempts_for_95_percent;  ///< starts in a row without failure that would prove 95 % at 95 % confidence
};

/// What a number of start attempts proves (Clopper-Pearson, one-sided; see measurement/binomial.hpp).
inline starting_result starting(const starting_input& in) {
  constexpr double confidence = 0.95;
  int needed = 1;
  while (measurement::success_at_least(needed, needed, confidence) < 0.95) ++needed;
  return {static_cast<double>(in.successes) / in.attempts,
          measurement::success_at_least(in.successes, in.attempts, confidence), needed};
}

}  // namespace rewound::checks
