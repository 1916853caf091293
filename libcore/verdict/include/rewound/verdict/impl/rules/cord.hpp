// SPDX-License-Identifier: MIT
#pragma once

#include <optional>
#include <string>

#include <rewound/base/compiled.hpp>
#include <rewound/checks/cord.hpp>
#include <rewound/verdict/finding.hpp>
#include <rewound/verdict/policy.hpp>
#include <rewound/verdict/rules/cord.hpp>

namespace rewound::verdict::rules {

namespace detail {

/// By gauge: what two, or with three phases three, conductors that carry current may carry.
inline void judge_by_gauge(finding& f, const cord_facts& facts, const policy& rules) {
  const auto rows = rules.laid(tables::cord_ampacity);
  f.quantity = "cord_current";
  set_value(f, *facts.current_A, facts.current_uncertainty_A, "A");
  f.source = std::string(rows.front().source);
  f.numbers = {{"awg", static_cast<double>(*facts.conductor_awg), 1.0}};
  // A thicker conductor than the table's last may carry at least what that one may.
  const tables::cord_ampacity_row* found = nullptr;
  for (const auto& row : rows) {
    const double may = facts.three_phase ? row.three_carry_A : row.two_carry_A;
    if (row.awg >= *facts.conductor_awg && may > 0.0) found = &row;
  }
  if (found == nullptr) {
    f.says = statement::cord_beyond_table;
    f.numbers.push_back({"smallest", rows.front().awg, 1.0});
    f.texts.emplace_back("beyond", "thin");
    f.outcome = outcome::fails;
    return;
  }
  f.says = statement::cord_ampacity;
  f.source = std::string(found->source);
  f.limit_high = facts.three_phase ? found->three_carry_A : found->two_carry_A;
  f.outcome = rules.judge(*facts.current_A, facts.current_uncertainty_A, {{}, *f.limit_high});
}

/// By cross-section: the smallest that the current asks for; the thinnest serves short cords only. Without a length it
/// counts as long where the cord is thick enough for that, and is asked for where it is not.
inline void judge_by_area(finding& f, const cord_facts& facts, const policy& rules) {
  constexpr double rounding_mm2 = 1e-9;
  constexpr double any_length_m = 1000.0;
  const double area = facts.result.conductor_mm2;
  f.quantity = "cord_conductor";
  set_value(f, area, 0.0, "mm2");
  f.numbers = {{"amperes", *facts.current_A}};
  std::optional<tables::cord_minimum_area_row> short_only;
  for (const auto& row : rules.laid(tables::cord_minimum_area)) {
    // A current that may lie in this row is judged by it: the limit between two rows is not known to the last digit.
    if (rules.judge(*facts.current_A, facts.current_uncertainty_A, {{}, row.up_to_A}) == outcome::fails) continue;
    const bool thick = area >= row.area_mm2 - rounding_mm2;
    const bool serves = facts.length_m ? *facts.length_m <= row.longest_m : row.longest_m >= any_length_m;
    if (thick && !serves) {
      if (!facts.length_m) short_only = row;
      continue;
    }
    const auto& judged = !thick && short_only ? *short_only : row;
    f.limit_low = judged.area_mm2;
    f.source = std::string(judged.source);
    f.numbers.push_back({"longest", judged.longest_m});
    f.says = !thick && short_only ? statement::cord_length_unknown : statement::cord_area;
    f.outcome = thick ? outcome::conforms : short_only ? outcome::undecided : outcome::fails;
    return;
  }
  f.says = statement::cord_beyond_table;
  f.source = std::string(tables::cord_minimum_area.back().source);
  f.texts.emplace_back("beyond", "current");
  f.outcome = outcome::undecided;
}

}  // namespace detail

REWOUND_INLINE finding cord(const cord_facts& facts, const policy& rules) {
  finding f{.check = check::checks, .subject = "cord"};
  if (!facts.current_A) {
    f.says = statement::cord_current_unknown;
    f.bearing = bearing::informs;
    f.quantity = "cord_conductor";
    set_value(f, facts.result.conductor_mm2, 0.0, "mm2");
    return f;
  }
  if (facts.conductor_awg) detail::judge_by_gauge(f, facts, rules);
  else detail::judge_by_area(f, facts, rules);
  f.texts.emplace_back("drop_known", facts.result.drop_percent ? "yes" : "no");
  if (facts.result.drop_percent) f.numbers.push_back({"drop", *facts.result.drop_percent, 0.02});
  return f;
}

REWOUND_INLINE std::optional<finding> cord_earth_conductor(const cord_facts& facts) {
  if (!facts.conductors || !facts.frame_earthed) return std::nullopt;
  const int needed = facts.three_phase ? 4 : 3;
  finding f{.check = check::checks,
            .subject = "cord earth conductor",
            .says = statement::cord_earth_conductor,
            .quantity = "cord_conductors",
            .source = "IEC 60335-1 3.3, class I (from memory, unverified)"};
  set_value(f, *facts.conductors, 0.0, "1");
  f.limit_low = needed;
  f.outcome = *facts.conductors >= needed ? outcome::conforms : outcome::fails;
  return f;
}

}  // namespace rewound::verdict::rules
