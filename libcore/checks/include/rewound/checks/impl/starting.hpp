// SPDX-License-Identifier: MIT
#pragma once

#include <optional>

#include <rewound/base/compiled.hpp>
#include <rewound/base/expect.hpp>
#include <rewound/checks/starting.hpp>
#include <rewound/measurement/binomial.hpp>

namespace rewound::checks {

namespace detail {

/// Starts without failure on top of those made, so that the one-sided lower bound reaches the claim.
inline std::optional<int> further_clean_starts(int successes, int attempts, double confidence, double claimed) {
  const auto proves = [&](int more) {
    return measurement::success_at_least(successes + more, attempts + more, confidence) >= claimed;
  };
  if (attempts > 0 && proves(0)) return 0;
  int high = 1;  // enough
  constexpr int out_of_reach = 10'000'000;
  while (!proves(high)) {
    if (high > out_of_reach) return std::nullopt;
    high *= 2;
  }
  int low = high / 2;  // too few, or none
  while (high - low > 1) {
    const int middle = low + (high - low) / 2;
    (proves(middle) ? high : low) = middle;
  }
  return high;
}

}  // namespace detail

REWOUND_INLINE starting_result starting(const starting_input& in) {
  base::expect(in.claimed > 0.0 && in.claimed <= 0.9999, "claimed", in.claimed, "a probability above 0, up to 0.9999");
  base::expect(in.confidence >= 0.5 && in.confidence <= 0.9999, "confidence", in.confidence,
               "a probability from 0.5 to 0.9999");
  const auto further = [&](int successes, int attempts) {
    return detail::further_clean_starts(successes, attempts, in.confidence, in.claimed);
  };
  return {.share = static_cast<double>(in.successes) / in.attempts,
          .reliability_low = measurement::success_at_least(in.successes, in.attempts, in.confidence),
          .reliability = measurement::clopper_pearson(in.successes, in.attempts, in.confidence),
          .clean_starts_needed = further(0, 0).value(),
          .further_starts = further(in.successes, in.attempts)};
}

}  // namespace rewound::checks
