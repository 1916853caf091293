// SPDX-License-Identifier: MIT
#pragma once

#include <optional>
#include <string>
#include <utility>
#include <vector>

#include <rewound/base/compiled.hpp>
#include <rewound/checks/cord.hpp>
#include <rewound/verdict/finding.hpp>
#include <rewound/verdict/policy.hpp>
#include <rewound/verdict/rules/cord.hpp>

namespace rewound::verdict::rules {

namespace detail {

/// By gauge: what two, or with three phases three, conductors that carry current may carry.
inline void judge_by_gauge(finding& f, const record::cord_section& of, bool three_phase,
                           const measurement::uncertain<double>& current_A, const policy& rules) {
  const auto rows = rules.laid(tables::cord_ampacity);
  f.quantity = "cord_current";
  set_value(f, current_A.value, current_A.standard_uncertainty, "A");
  f.source = std::string(rows.front().source);
  f.numbers = {{"awg", static_cast<double>(*of.conductor_awg), 1.0}};
  // A thicker conductor than the table's last may carry at least what that one may.
  const tables::cord_ampacity_row* found = nullptr;
  for (const auto& row : rows) {
    const double may = three_phase ? row.three_carry_A : row.two_carry_A;
    if (row.awg >= *of.conductor_awg && may > 0.0) found = &row;
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
  f.limit_high = three_phase ? found->three_carry_A : found->two_carry_A;
  f.outcome = rules.judge(current_A.value, current_A.standard_uncertainty, {{}, *f.limit_high});
}

/// By cross-section: the smallest that the current asks for; the thinnest serves short cords only. Without a length it
/// counts as long where the cord is thick enough for that, and is asked for where it is not.
inline void judge_by_area(finding& f, const record::cord_section& of, double area,
                          const measurement::uncertain<double>& current_A, const policy& rules) {
  constexpr double rounding_mm2 = 1e-9;
  constexpr double any_length_m = 1000.0;
  f.quantity = "cord_conductor";
  set_value(f, area, 0.0, "mm2");
  f.numbers = {{"amperes", current_A.value}};
  std::optional<tables::cord_minimum_area_row> short_only;
  for (const auto& row : rules.laid(tables::cord_minimum_area)) {
    // A current that may lie in this row is judged by it: the limit between two rows is not known to the last digit.
    if (rules.judge(current_A.value, current_A.standard_uncertainty, {{}, row.up_to_A}) == outcome::fails) continue;
    const bool thick = area >= row.area_mm2 - rounding_mm2;
    const bool serves = of.length_m ? *of.length_m <= row.longest_m : row.longest_m >= any_length_m;
    if (thick && !serves) {
      if (!of.length_m) short_only = row;
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

inline std::optional<finding> earth_conductor(const record::cord_section& of, const record::machine_section& machine) {
  const bool earthed = machine.frame_earthed.value_or(machine.appliance_class == record::appliance_class::class_I);
  if (!of.conductors || !earthed) return std::nullopt;
  const int needed = machine.phases == 3 ? 4 : 3;
  finding f{.check = check::checks,
            .subject = "cord earth conductor",
            .says = statement::cord_earth_conductor,
            .quantity = "cord_conductors",
            .source = "IEC 60335-1 3.3, class I (from memory, unverified)"};
  set_value(f, *of.conductors, 0.0, "1");
  f.limit_low = needed;
  f.outcome = *of.conductors >= needed ? outcome::conforms : outcome::fails;
  return f;
}

}  // namespace detail

REWOUND_INLINE std::vector<finding> cord(const record::cord_section& of, const record::machine_section& machine,
                                         const checks::cord_result& result,
                                         const std::optional<measurement::uncertain<double>>& current_A,
                                         const policy& rules) {
  finding f{.check = check::checks, .subject = "cord"};
  if (!current_A) {
    f.says = statement::cord_current_unknown;
    f.bearing = bearing::informs;
    f.quantity = "cord_conductor";
    set_value(f, result.conductor_mm2, 0.0, "mm2");
  } else {
    if (of.conductor_awg) detail::judge_by_gauge(f, of, machine.phases == 3, *current_A, rules);
    else detail::judge_by_area(f, of, result.conductor_mm2, *current_A, rules);
    f.texts.emplace_back("drop_known", result.drop_percent ? "yes" : "no");
    if (result.drop_percent) f.numbers.push_back({"drop", *result.drop_percent, 0.02});
  }
  std::vector<finding> out{std::move(f)};
  if (auto earth = detail::earth_conductor(of, machine)) out.push_back(std::move(*earth));
  return out;
}

}  // namespace rewound::verdict::rules
