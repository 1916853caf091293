// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <optional>
#include <vector>

#include <rewound/base/compiled.hpp>
#include <rewound/base/expect.hpp>
#include <rewound/checks/start_positions.hpp>
#include <rewound/measurement/binomial.hpp>

namespace rewound::checks {

REWOUND_INLINE double fisher_exact(const counted_starts& a, const counted_starts& b) {
  for (const auto& one : {a, b}) {
    base::expect(one.attempts >= 1, "attempts", one.attempts, "a count of at least 1");
    base::expect(one.successes >= 0 && one.successes <= one.attempts, "successes", one.successes,
                 "a count from 0 to attempts");
  }
  const int failures = (a.attempts - a.successes) + (b.attempts - b.successes);
  const auto log_probability = [&](int failed) {
    return measurement::log_ways(a.attempts, failed) + measurement::log_ways(b.attempts, failures - failed) -
           measurement::log_ways(a.attempts + b.attempts, failures);
  };
  // Tables as probable as the one seen count too; the slack covers the rounding of the logarithms.
  const double seen = log_probability(a.attempts - a.successes) + 1e-7;
  double sum = 0.0;
  for (int failed = std::max(0, failures - b.attempts); failed <= std::min(failures, a.attempts); ++failed)
    if (const double here = log_probability(failed); here <= seen) sum += std::exp(here);
  return std::min(1.0, sum);
}

REWOUND_INLINE std::optional<start_positions_result> start_positions(const std::vector<counted_starts>& positions) {
  counted_starts all{0, 0};
  for (const auto& one : positions) all = {all.attempts + one.attempts, all.successes + one.successes};
  if (positions.size() < 2 || all.successes == all.attempts) return std::nullopt;
  const int comparisons = positions.size() == 2 ? 1 : static_cast<int>(positions.size());
  std::optional<start_positions_result> out;
  for (std::size_t i = 0; i < positions.size(); ++i) {
    const counted_starts& here = positions[i];
    const counted_starts others{all.attempts - here.attempts, all.successes - here.successes};
    const double share = static_cast<double>(here.successes) / here.attempts;
    if (share >= static_cast<double>(others.successes) / others.attempts) continue;
    const double probability = std::min(1.0, comparisons * fisher_exact(here, others));
    if (!out || probability < out->probability) out = {i, others, probability, comparisons};
  }
  return out;
}

}  // namespace rewound::checks
