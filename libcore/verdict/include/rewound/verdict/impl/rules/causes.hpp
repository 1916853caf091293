// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <optional>
#include <vector>

#include <rewound/base/compiled.hpp>
#include <rewound/base/expect.hpp>
#include <rewound/verdict/cause.hpp>
#include <rewound/verdict/cause_tables.hpp>
#include <rewound/verdict/outcome.hpp>
#include <rewound/verdict/rules/causes.hpp>

namespace rewound::verdict::rules {

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

REWOUND_INLINE std::vector<ranked_cause> rank_causes(const cause_facts& facts) {
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
