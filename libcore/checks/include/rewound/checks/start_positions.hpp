// SPDX-License-Identifier: MIT
#pragma once

#include <cstddef>
#include <optional>
#include <vector>

namespace rewound::checks {

/// Start attempts and successes in one position.
struct counted_starts {
  int attempts;   ///< at least 1
  int successes;  ///< 0 to attempts
};

struct start_positions_result {
  std::size_t worst;      ///< the position that stands out most below the others together
  counted_starts others;  ///< all the other positions together
  double probability;     ///< of so large a difference by chance, corrected for the positions looked at
  int comparisons;        ///< positions compared with the others; 1 when there are two
};

/// Fisher's exact test: the probability, were both to start equally often, that the split of the failures between
/// them is at most as probable as the one seen (two-sided, the rule of summing the less probable tables).
///
/// R. A. Fisher, Statistical Methods for Research Workers, section 21.02 (from memory, unverified); values against
/// exact rational arithmetic in reference/oracles/physics/starting.csv.
///
/// @throws base::error (precondition) unless each has at least 1 attempt and 0 to attempts successes
double fisher_exact(const counted_starts& a, const counted_starts& b);

/// Whether the machine starts less often in one position than in the others: each against all others together, by
/// Fisher's exact test, times the number of comparisons (Bonferroni).
///
/// @return absent with fewer than two positions, or when no start failed
/// @throws base::error (precondition) as fisher_exact
std::optional<start_positions_result> start_positions(const std::vector<counted_starts>& positions);

}  // namespace rewound::checks

#ifndef REWOUND_COMPILED
#include <rewound/checks/impl/start_positions.hpp>
#endif
