// SPDX-License-Identifier: MIT
#pragma once

#include <cstddef>
#include <optional>
#include <vector>

#include <rewound/verdict/cause.hpp>
#include <rewound/verdict/cause_tables.hpp>
#include <rewound/verdict/outcome.hpp>

namespace rewound::verdict::rules {

/// What a piece of evidence was read from.
enum class evidence { electrical, starting, insulation, polarization_index, coast_down, heat_run, readings, supply };

inline constexpr std::size_t evidence_count = 8;

/// How many times as probable a piece of evidence is under a cause as on a healthy machine, in the logarithm.
struct evidence_factor {
  evidence from;
  double log_factor;
};

/// A cause, its probability, and what speaks for and against it.
struct ranked_cause {
  verdict::cause cause;
  double probability;
  std::vector<evidence_factor> factors;
};

/// Everything read on a machine that tells causes apart.
struct cause_facts {
  /// ln density of currents, watts, rpm and ohms under each cause over that of a healthy machine; empty: not read.
  std::vector<double> log_electrical;
  int start_attempts = 0;
  int start_failures = 0;
  std::optional<outcome> insulation;  ///< of the worst circuit; absent: not read
  std::optional<outcome> polarization_index;
  std::optional<outcome> coast_down;
  std::optional<outcome> heat_run;
  std::optional<bool> suspect_reading;  ///< absent: no run-up read
  std::optional<bool> other_frequency;  ///< the mains' frequency as written is not the rated one; absent: not written
};

/// Probability of every cause, likeliest first, with what speaks for and against it.
///
/// @throws base::error (precondition) when log_electrical is neither empty nor as long as the list of causes
/// Source: T. Bayes's rule; shares of reference/causes/cause_evidence.table.
std::vector<ranked_cause> rank_causes(const cause_facts& facts);

}  // namespace rewound::verdict::rules

#ifndef REWOUND_COMPILED
#include <rewound/verdict/impl/rules/causes.hpp>
#endif
