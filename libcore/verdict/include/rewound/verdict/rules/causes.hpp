// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <optional>
#include <vector>

#include <rewound/base/expect.hpp>
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

namespace detail {

using cause_row = cause_tables::cause_evidence_row;

inline const cause_row& row_of(cause which) { return cause_tables::cause_evidence[static_cast<std::size_t>(which)]; }

inline double log_share(bool seen, double share) { return std::log(seen ? share : 1.0 - share); }

/// An undecided outcome tells nothing.
inline double log_outcome(outcome seen, double share) {
  if (seen == outcome::fails) return std::log(share);
  return seen == outcome::conforms ? std::log1p(-share) : 0.0;
}

/// Machines that hesitate fail with any probability alike; the others once in five hundred starts (common practice, no
/// source).
inline double log_starts(int attempts, int failures, double hesitates) {
  constexpr double slip = 0.002;
  const double n = attempts;
  const double f = failures;
  const double ways = std::lgamma(n + 1.0) - std::lgamma(f + 1.0) - std::lgamma(n - f + 1.0);
  const double steady = std::exp(ways + f * std::log(slip) + (n - f) * std::log1p(-slip));
  return std::log(hesitates / (n + 1.0) + (1.0 - hesitates) * steady);
}

/// A frequency written down as another one is what half of the machines on a wrong supply have, and one of five
/// hundred others (common practice, no source).
inline double log_frequency(bool other, cause which) {
  return log_share(other, which == cause::wrong_frequency ? 0.5 : 0.002);
}

inline std::array<std::optional<double>, evidence_count> log_probabilities(const cause_facts& facts, cause which) {
  const auto& row = row_of(which);
  std::array<std::optional<double>, evidence_count> out;
  const auto at = [&](evidence from) -> std::optional<double>& { return out[static_cast<std::size_t>(from)]; };
  if (!facts.log_electrical.empty()) at(evidence::electrical) = facts.log_electrical[static_cast<std::size_t>(which)];
  if (facts.start_attempts > 0)
    at(evidence::starting) = log_starts(facts.start_attempts, facts.start_failures, row.hesitates);
  if (facts.insulation) at(evidence::insulation) = log_outcome(*facts.insulation, row.insulation_low);
  if (facts.polarization_index)
    at(evidence::polarization_index) = log_outcome(*facts.polarization_index, row.polarization_low);
  if (facts.coast_down) at(evidence::coast_down) = log_outcome(*facts.coast_down, row.drags);
  if (facts.heat_run) at(evidence::heat_run) = log_outcome(*facts.heat_run, row.hot);
  if (facts.suspect_reading) at(evidence::readings) = log_share(*facts.suspect_reading, row.suspect);
  if (facts.other_frequency) at(evidence::supply) = log_frequency(*facts.other_frequency, which);
  return out;
}

}  // namespace detail

/// Probability of every cause, likeliest first, with what speaks for and against it.
///
/// @throws base::error (precondition) when log_electrical is neither empty nor as long as the list of causes
/// Source: T. Bayes's rule; shares of reference/causes/cause_evidence.table.
inline std::vector<ranked_cause> rank_causes(const cause_facts& facts) {
  base::expect(facts.log_electrical.empty() || facts.log_electrical.size() == cause_count, "log_electrical",
               static_cast<double>(facts.log_electrical.size()), "one value a cause");
  const auto healthy = detail::log_probabilities(facts, cause::none);
  std::vector<ranked_cause> out;
  std::vector<double> log_posterior;
  for (std::size_t i = 0; i < cause_count; ++i) {
    const auto which = static_cast<cause>(i);
    ranked_cause ranked{which, 0.0, {}};
    double sum = std::log(detail::row_of(which).prior);
    const auto own = detail::log_probabilities(facts, which);
    for (std::size_t e = 0; e < own.size(); ++e) {
      if (!own[e]) continue;
      sum += *own[e];
      ranked.factors.push_back({static_cast<evidence>(e), *own[e] - *healthy[e]});
    }
    log_posterior.push_back(sum);
    out.push_back(std::move(ranked));
  }
  const double most = *std::max_element(log_posterior.begin(), log_posterior.end());
  double total = 0.0;
  for (const double each : log_posterior) total += std::exp(each - most);
  for (std::size_t i = 0; i < out.size(); ++i) out[i].probability = std::exp(log_posterior[i] - most) / total;
  std::stable_sort(out.begin(), out.end(), [](const auto& a, const auto& b) { return a.probability > b.probability; });
  return out;
}

}  // namespace rewound::verdict::rules
