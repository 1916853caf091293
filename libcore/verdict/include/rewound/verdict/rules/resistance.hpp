// SPDX-License-Identifier: MIT
#pragma once

#include <optional>
#include <string>
#include <vector>

#include <rewound/checks/resistance.hpp>
#include <rewound/verdict/finding.hpp>
#include <rewound/verdict/policy.hpp>

namespace rewound::verdict::rules {

/// One section's resistance and whether the expectation came from an earlier visit.
struct resistance_facts {
  std::string section;
  checks::resistance_result result;
  bool from_earlier = false;
};

namespace detail {

inline finding section(const resistance_facts& facts, const std::optional<double>& most_ohm, const policy& rules) {
  finding f{.check = check::resistance, .subject = facts.section};
  const double ohm = units::in_ohms(facts.result.at_20_C.value);
  const double ohm_u = units::in_ohms(facts.result.at_20_C.standard_uncertainty);
  if (!facts.result.deviation_percent) {
    // Nothing to compare with: what was shown is that the section conducts, and the finding says no more.
    f.says = statement::resistance_alone;
    f.quantity = "resistance_at_20_C";
    f.outcome = outcome::conforms;
    f.source = "common practice, no source (the section conducts)";
    set_value(f, ohm, ohm_u, "ohm");
    if (*f.low <= 0.0 || (most_ohm && ohm > *most_ohm)) {
      f.says = statement::resistance_implausible;
      f.outcome = outcome::undecided;
      f.limit_high = most_ohm;
    }
    return f;
  }
  const auto limit = rules.practice("resistance_percent");
  const auto& deviation = *facts.result.deviation_percent;
  f.says = facts.from_earlier ? statement::resistance_against_earlier : statement::resistance_against_expected;
  f.quantity = "resistance_deviation";
  set_value(f, deviation.value, deviation.standard_uncertainty, "%");
  f.limit_low = -limit.value;
  f.limit_high = limit.value;
  f.source = limit.source;
  f.outcome = rules.judge(deviation.value, deviation.standard_uncertainty, {-limit.value, limit.value});
  f.numbers = {{"ohm", ohm, ohm_u}, {"expected", units::in_ohms(*facts.result.expected_at_20_C), ohm_u}};
  return f;
}

}  // namespace detail

/// @param most_ohm  more than this no winding of the machine can have; absent where the current is not known
///
/// Winding resistances: no standard limits them; shops compare with the design or the last visit.
inline std::vector<finding> resistance(const std::vector<resistance_facts>& sections,
                                       const std::optional<double>& most_ohm, const policy& rules) {
  std::vector<finding> out;
  for (const auto& facts : sections) out.push_back(detail::section(facts, most_ohm, rules));
  if (out.empty())
    out.push_back({.check = check::resistance, .says = statement::resistance_not_measured,
                   .quantity = "resistance_at_20_C"});
  return out;
}

}  // namespace rewound::verdict::rules
