// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <vector>

#include <rewound/base/compiled.hpp>
#include <rewound/verdict/impl/rules/tested_circuit.hpp>
#include <rewound/verdict/rules/tested_circuit.hpp>
#include <rewound/verdict/rules/polarization.hpp>

namespace rewound::verdict::rules {

namespace detail {

inline std::optional<limit> polarization_minimum(const tested_circuit& of, const policy& rules) {
  if (const auto& own = rules.replaced.polarization_index_minimum) return own;
  if (!of.in.machine.insulation_class) return std::nullopt;
  for (const auto& row : tables::polarization_index_minimum)
    if (static_cast<int>(row.class_C) == static_cast<int>(*of.in.machine.insulation_class))
      return limit{row.minimum, std::string(row.source)};
  return std::nullopt;
}

/// Without a class the index conforms above the highest minimum of the table and fails below the lowest.
inline void judge_without_class(finding& f, double index, double u, const policy& rules) {
  double lowest = tables::polarization_index_minimum.front().minimum;
  double highest = lowest;
  for (const auto& row : tables::polarization_index_minimum) {
    lowest = std::min(lowest, row.minimum);
    highest = std::max(highest, row.minimum);
  }
  f.says = statement::polarization_class_unknown;
  f.limit_low = highest;
  f.source = tables::polarization_index_minimum.front().source;
  f.outcome = outcome::undecided;
  if (rules.judge(index, u, {highest, {}}) == outcome::conforms) {
    f.outcome = outcome::conforms;
  } else if (rules.judge(index, u, {lowest, {}}) == outcome::fails) {
    f.says = statement::polarization_minimum;  // whatever the class
    f.limit_low = lowest;
    f.outcome = outcome::fails;
  }
}

inline void judge_index(finding& f, const tested_circuit& of, const policy& rules) {
  const double index = of.found.result.polarization->value;
  const double u = of.found.result.polarization->standard_uncertainty;
  const auto high = rules.practice.polarization_index_high;
  const auto minimum = polarization_minimum(of, rules);
  if (may_be_brittle(of) && rules.judge(index, u, {{}, high.value}) == outcome::fails) {
    f.says = statement::polarization_high;
    f.limit_high = high.value;
    f.source = high.source;
    f.outcome = outcome::undecided;
  } else if (minimum) {
    f.says = statement::polarization_minimum;
    f.limit_low = minimum->value;
    f.source = minimum->source;
    f.outcome = rules.judge(index, u, {minimum->value, {}});
  } else if (of.in.machine.insulation_class) {
    f.says = statement::polarization_class_not_listed;
    f.bearing = bearing::does_not_apply;
    f.source = tables::polarization_index_minimum.front().source;
  } else {
    judge_without_class(f, index, u, rules);
  }
  // A shop that needs the index, or sets its own minimum, asks for it.
  const bool asked = rules.needs(check::polarization_index) || rules.replaced.polarization_index_minimum;
  if (rules.polarization_index_informs_only && !asked && random_wound(of)) {
    f.says = statement::polarization_information;
    f.bearing = bearing::informs;
    f.outcome = outcome::not_tested;
  }
}

/// A predicted index says what a ten-minute test would show; it neither conforms for one nor fails for one.
inline void predict_index(finding& f, const tested_circuit& of, const policy& rules) {
  f.bearing = bearing::informs;
  f.says = statement::polarization_not_measured;
  if (!of.found.index || !of.found.ten_minutes) return;
  f.says = statement::polarization_predicted;
  f.value = of.found.index->value;
  f.low = of.found.index->range.low;
  f.high = of.found.index->range.high;
  f.unit = "1";
  f.source = "leakage plus K t^-n through the readings (IEEE 43 annex, symbols from memory)";
  const auto megohm = [&](const char* key, units::resistance r, double u) {
    f.numbers.push_back({key, units::in_megohms(r), u});
  };
  const auto& ten = *of.found.ten_minutes;
  const double u = 0.25 * units::in_megohms(ten.range.high - ten.range.low);
  megohm("ten", ten.value, u);
  megohm("ten_low", ten.range.low, u);
  megohm("ten_high", ten.range.high, u);
  f.numbers.push_back({"longest", of.found.longest_time_s});
  if (const auto minimum = polarization_minimum(of, rules)) f.limit_low = minimum->value;
}

/// On a small random-wound winding the absorption current may be gone after a minute or two, and the index is then low
/// on sound insulation. Evidence is asked for both: that it was there (60 s over 10, 15 or 30 s at least what small
/// motors are asked over 10 s) and that it had gone.
inline bool absorption_died(const tested_circuit& of, const policy& rules) {
  const bool small =
      of.in.machine.rated_power_W && *of.in.machine.rated_power_W < rules.practice.insulation_scope_W.value;
  if (!small || !random_wound(of) || !of.found.late_ratio) return false;
  const auto& early = of.found.result.from_ten ? of.found.result.from_ten : of.found.result.absorption;
  if (!early) return false;
  const double least = rules.practice.short_ratio_least_Mohm.value;
  return judge_factor(rules, early->value, relative_u(*early), rules.practice.short_ratio_minimum.value) ==
             outcome::conforms &&
         units::in_megohms(of.found.result.at_one_minute->value) > least * early->value &&
         *of.found.late_ratio <= rules.practice.absorption_died_ratio.value;
}

/// At 40 degC, by the insulation system that is stated or by the one that makes most of it: what is not stated never
/// fails a machine.
inline units::resistance highest_value(const tested_circuit& of) {
  if (of.in.machine.insulation_system) return deciding_value(of).value;
  return std::max(of.found.result.thermosetting_at_40->value, of.found.result.thermoplastic_at_40->value);
}

inline finding polarization_finding(const tested_circuit& of, const policy& rules) {
  finding f{.check = check::polarization_index, .subject = of.entry.circuit, .quantity = "polarization_index"};
  f.texts.emplace_back("random_wound", random_wound(of) ? "yes" : "no");
  if (!of.found.result.polarization) {
    predict_index(f, of, rules);
    return f;
  }
  set_value(f, of.found.result.polarization->value, of.found.result.polarization->standard_uncertainty, "1");
  const auto ends = rules.practice.polarization_index_ends_Mohm;
  const double at_40 = units::in_megohms(highest_value(of));
  if (at_40 > ends.value) {
    f.says = statement::polarization_ends;
    f.bearing = bearing::does_not_apply;
    f.source = ends.source;
    f.numbers = {{"at_40", at_40, at_40 * 0.05}, {"ends", ends.value, 100.0}};
    return f;
  }
  judge_index(f, of, rules);
  if (f.outcome == outcome::fails && absorption_died(of, rules)) {
    f.says = statement::polarization_absorption_died;
    f.bearing = bearing::does_not_apply;
    f.outcome = outcome::not_tested;
    f.numbers.push_back({"late", *of.found.late_ratio, 0.01});
  }
  return f;
}

/// 60 s over 30 s: read, or else predicted from the other readings. No standard limits it.
inline std::optional<finding> absorption_ratio_finding(const tested_circuit& of) {
  finding f{.check = check::insulation,
            .subject = of.entry.circuit,
            .bearing = bearing::informs,
            .says = statement::absorption_information,
            .quantity = "absorption_ratio",
            .source = "IEEE 43 annex (no standardised limit)"};
  if (of.found.result.absorption) {
    set_value(f, of.found.result.absorption->value, of.found.result.absorption->standard_uncertainty, "1");
  } else if (of.found.ratio) {
    f.says = statement::absorption_predicted;
    f.value = of.found.ratio->value;
    f.low = of.found.ratio->range.low;
    f.high = of.found.ratio->range.high;
    f.unit = "1";
  } else {
    return std::nullopt;
  }
  return f;
}

/// 60 s over 10 s, with a limit made for the field check of small motors; alone it neither holds nor releases.
inline std::optional<finding> short_ratio_finding(const tested_circuit& of, const policy& rules) {
  const auto& ratio = of.found.result.from_ten;
  if (!ratio || !of.found.result.at_one_minute) return std::nullopt;
  finding f{.check = check::insulation,
            .subject = of.entry.circuit,
            .bearing = bearing::informs,
            .says = statement::short_ratio,
            .quantity = "ratio_60_s_to_10_s"};
  const auto minimum = rules.practice.short_ratio_minimum;
  const auto least = rules.practice.short_ratio_least_Mohm;
  set_factor_value(f, ratio->value, relative_u(*ratio), "1");
  f.limit_low = minimum.value;
  f.source = minimum.source;
  f.numbers = {{"least", least.value}};
  const double lower = std::min(units::in_megohms(*of.found.result.at_ten_seconds),
                                units::in_megohms(of.found.result.at_one_minute->value));
  f.outcome = judge_factor(rules, ratio->value, relative_u(*ratio), minimum.value);
  if (lower <= least.value || f.outcome == outcome::fails) f.outcome = outcome::undecided;
  return f;
}

}  // namespace detail

REWOUND_INLINE std::vector<finding> polarization(const tested_circuit& of, const policy& rules) {
  std::vector<finding> out;
  if (of.found.result.at_one_minute) out.push_back(detail::polarization_finding(of, rules));
  if (const auto f = detail::absorption_ratio_finding(of)) out.push_back(*f);
  if (const auto f = detail::short_ratio_finding(of, rules)) out.push_back(*f);
  return out;
}

}  // namespace rewound::verdict::rules
