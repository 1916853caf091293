// SPDX-License-Identifier: MIT
#pragma once

#include <cstddef>
#include <optional>
#include <vector>

#include <rewound/verdict/cause.hpp>
#include <rewound/verdict/cause_tables.hpp>
#include <rewound/verdict/check.hpp>
#include <rewound/verdict/finding.hpp>
#include <rewound/verdict/outcome.hpp>
#include <rewound/verdict/policy.hpp>

namespace rewound::verdict::rules {

/// What a piece of evidence was read from.
enum class evidence {
  electrical,
  starting,
  insulation,
  polarization_index,
  coast_down,
  heat_run,
  readings,
  supply,
  patterns,
  failed_tests
};

inline constexpr std::size_t evidence_count = 10;

/// What a repairer reads off a record without a calculation, as reference/causes/shop_rules.table names it.
using pattern = cause_tables::shop_rules_key;

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
  std::optional<bool> suspect_reading;       ///< absent: no run-up read
  std::vector<pattern> patterns;             ///< those that the record shows
  std::vector<verdict::cause> without_part;  ///< causes that the machine has no part for
  std::vector<check> failed;                 ///< checks that a finding failed
  std::optional<bool> other_frequency;  ///< that of the run-ups as written is not the rated one; absent: not written
};

/// What the machine model's likelihoods say of which fault it is, as far as they are believed: by their square root,
/// since the model's own error goes through all readings alike and leaves fewer of them to tell, and with a tenth of
/// machines built as no design of the population, whose readings do not tell (common practice, no source; of simulated
/// machines of another make, what is then told with a probability is right as often). That there is a fault at all
/// stays as likely as it was.
///
/// @param log_evidence  ln density of what was read under each cause over that of a healthy machine; minus infinity
/// where
///                      the model says nothing of a cause, which is left alone
/// @throws base::error (precondition) when it is not as long as the list of causes
std::vector<double> as_believed(std::vector<double> log_evidence);

/// Probability of every cause, likeliest first, with what speaks for and against it.
///
/// @throws base::error (precondition) when log_electrical is neither empty nor as long as the list of causes
/// Source: T. Bayes's rule; shares of reference/causes/cause_evidence.table.
std::vector<ranked_cause> rank_causes(const cause_facts& facts);

/// A release needs the causes to agree: where "nothing wrong" is too improbable among them it is undecided.
std::vector<finding> causes_against_release(const std::vector<ranked_cause>& causes, const policy& rules);

}  // namespace rewound::verdict::rules

#ifndef REWOUND_COMPILED
#include <rewound/verdict/impl/rules/causes.hpp>
#endif
