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
#include <rewound/measurement/binomial.hpp>
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
  const double ways = measurement::log_ways(attempts, failures);
  const double steady = std::exp(ways + f * std::log(slip) + (n - f) * std::log1p(-slip));
  return std::log(hesitates / (n + 1.0) + (1.0 - hesitates) * steady);
}

/// A frequency written down as another one is what nine of ten machines on a wrong supply have, and one of five
/// hundred others (common practice, no source).
inline double log_frequency(bool other, cause which) {
  return log_share(other, which == cause::wrong_frequency ? 0.9 : 0.002);
}

/// Share of the machines with a cause that show a pattern.
inline double pattern_share(pattern seen, cause which) {
  const auto& row = cause_tables::shop_rules[static_cast<std::size_t>(seen)];
  if (which == cause::none) return row.healthy;
  if (row.first == name(which)) return row.first_share;
  if (row.second == name(which)) return row.second_share;
  return row.third == name(which) ? row.third_share : row.other;
}

/// Whether a cause of the list can make a check fail at all: none of them breaks an earth connection or thins a cord.
inline bool can_fail(cause which, check failed) {
  switch (failed) {
    case check::earth:
    case check::leakage:
    case check::commutator:
    case check::checks:
    case check::supply: return false;
    case check::withstand:
      return which == cause::damp_insulation || which == cause::contaminated_insulation ||
             which == cause::aged_insulation;
    case check::capacitor: return which == cause::weak_capacitor;
    case check::resistance:
      return which == cause::shorted_turns || which == cause::too_few_turns || which == cause::too_many_turns ||
             which == cause::wire_too_thin || which == cause::wire_too_thick || which == cause::speed_leads_exchanged ||
             which == cause::speed_section_shorted || which == cause::speed_section_open ||
             which == cause::misread_reading || which == cause::meter_range;
    default: return true;
  }
}

/// A test fails by chance on three healthy machines of a thousand; a cause that cannot make it fail does so no oftener;
/// whatever the list does not name explains any (common practice, no source).
inline double log_failed(const std::vector<check>& failed, cause which) {
  constexpr double by_chance = 0.003, explained = 0.9;
  if (which == cause::none) return std::log(by_chance);
  if (which == cause::something_else) return std::log(explained);
  const bool all = std::all_of(failed.begin(), failed.end(), [&](check each) { return can_fail(which, each); });
  return std::log(all ? explained : by_chance);
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
  for (const auto seen : facts.patterns)
    at(evidence::patterns) = at(evidence::patterns).value_or(0.0) + std::log(pattern_share(seen, which));
  if (!facts.failed.empty()) at(evidence::failed_tests) = log_failed(facts.failed, which);
  if (facts.other_frequency) at(evidence::supply) = log_frequency(*facts.other_frequency, which);
  return out;
}

}  // namespace detail

REWOUND_INLINE std::vector<double> as_believed(std::vector<double> log_evidence) {
  constexpr double power = 0.5, like_no_design = 0.1;
  base::expect(log_evidence.size() == cause_count, "log_evidence", static_cast<double>(log_evidence.size()),
               "one value a cause");
  const double most = *std::max_element(log_evidence.begin(), log_evidence.end());
  if (!std::isfinite(most)) return log_evidence;
  double whole = 0.0, rooted = 0.0, prior = 0.0;
  for (std::size_t i = 0; i < cause_count; ++i) {
    if (!std::isfinite(log_evidence[i])) continue;
    const double share = cause_tables::cause_evidence.at(i).prior;
    whole += share * std::exp(log_evidence[i] - most);
    rooted += share * std::exp(power * (log_evidence[i] - most));
    prior += share;
  }
  for (auto& each : log_evidence) {
    if (!std::isfinite(each)) continue;
    const double told = (1.0 - like_no_design) * std::exp(power * (each - most)) / rooted;
    each = most + std::log(whole * (told + like_no_design / prior));
  }
  return log_evidence;
}

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
    const bool no_part =
        std::find(facts.without_part.begin(), facts.without_part.end(), which) != facts.without_part.end();
    constexpr double never = -50.0;  // finite, so that a rank is left (project's choice)
    log_posterior.push_back(no_part ? sum + never : sum);
    out.push_back(std::move(ranked));
  }
  const double most = *std::max_element(log_posterior.begin(), log_posterior.end());
  double total = 0.0;
  for (const double each : log_posterior) total += std::exp(each - most);
  for (auto& each : out)
    each.probability = std::exp(log_posterior[static_cast<std::size_t>(each.cause)] - most) / total;
  std::stable_sort(out.begin(), out.end(), [](const auto& a, const auto& b) { return a.probability > b.probability; });
  return out;
}

REWOUND_INLINE std::vector<finding> causes_against_release(const std::vector<ranked_cause>& causes,
                                                           const policy& rules) {
  const auto least = rules.practice.healthy_cause_least;
  const auto healthy =
      std::find_if(causes.begin(), causes.end(), [](const auto& each) { return each.cause == cause::none; });
  if (healthy == causes.end() || healthy->probability >= least.value) return {};
  finding f{.check = check::draw,
            .subject = "causes",
            .outcome = outcome::undecided,
            .says = statement::causes_against_release,
            .quantity = "probability_of_no_cause",
            .unit = "1",
            .source = std::string(least.source)};
  f.value = healthy->probability;
  f.limit_low = least.value;
  f.texts.emplace_back("likelier", std::string(name(causes.front().cause)));
  for (const auto* key : {"look_for", "look_shortly"})
    f.texts.emplace_back(key, causes.front().cause == cause::something_else ? "unlisted" : "listed");
  return {std::move(f)};
}

}  // namespace rewound::verdict::rules
