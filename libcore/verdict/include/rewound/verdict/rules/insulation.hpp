// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <optional>
#include <string>
#include <vector>

#include <rewound/checks/insulation.hpp>
#include <rewound/machine/insulation_class.hpp>
#include <rewound/verdict/finding.hpp>
#include <rewound/verdict/policy.hpp>

namespace rewound::verdict::rules {

/// What is known of one circuit and of the machine its insulation belongs to.
struct insulation_facts {
  std::string circuit;
  checks::insulation_result result;
  double test_voltage_V = 0.0;
  double longest_time_s = 0.0;
  double rated_voltage_V = 0.0;
  double winding_C = 0.0;
  std::optional<double> rated_power_W;
  std::optional<int> wound_year;
  std::optional<machine::winding_kind> kind;
  std::optional<machine::insulation_system> system;
  std::optional<machine::insulation_class> thermal_class;
};

namespace detail {

inline limit insulation_minimum(const insulation_facts& facts, const policy& rules) {
  if (const auto own = rules.own("insulation_minimum_Mohm")) return *own;
  const auto kind = facts.kind.value_or(machine::winding_kind::random_wound);
  std::string_view which = "random_wound";
  if (kind == machine::winding_kind::field || facts.wound_year.value_or(9999) < 1970) which = "before_1970_or_field";
  else if (kind == machine::winding_kind::armature) which = "armature";
  else if (kind == machine::winding_kind::form_wound && facts.rated_voltage_V >= 1000.0) which = "form_wound_above_1kV";
  for (const auto& row : tables::insulation_minimum)
    if (row.case_ == which)
      return {row.constant_Mohm + row.per_kV_Mohm * facts.rated_voltage_V / 1000.0, std::string(row.source)};
  base::expect(false, "case", std::string(which), "a row of reference/limits/insulation_minimum.table");
  return {};
}

/// The corrected value that decides: of the stated system, or the lower of both where the system is not known.
inline measurement::uncertain<units::resistance> deciding_value(const insulation_facts& facts) {
  const auto& setting = *facts.result.thermosetting_at_40;
  const auto& plastic = *facts.result.thermoplastic_at_40;
  if (facts.system) return *facts.system == machine::insulation_system::thermosetting ? setting : plastic;
  return setting.value < plastic.value ? setting : plastic;
}

inline finding minimum_finding(const insulation_facts& facts, const policy& rules) {
  finding f{.check = check::insulation, .subject = facts.circuit, .quantity = "insulation_at_40_C"};
  if (!facts.result.at_one_minute) {
    f.says = statement::insulation_no_one_minute;
    return f;
  }
  const auto minimum = insulation_minimum(facts, rules);
  const auto value = deciding_value(facts);
  const double megohm = units::in_megohms(value.value);
  const double u = units::in_megohms(value.standard_uncertainty);
  f.says = statement::insulation_minimum;
  set_value(f, megohm, u, "Mohm");
  f.limit_low = minimum.value;
  f.source = minimum.source + ", corrected by IEEE 43-2013 6.3 (thermosetting coefficients from memory, unverified)";
  f.outcome = rules.judge(megohm, u, {minimum.value, {}});
  f.numbers = {{"read", units::in_megohms(facts.result.at_one_minute->value), u},
               {"winding_C", facts.winding_C, 0.5},
               {"thermosetting", units::in_megohms(facts.result.thermosetting_at_40->value), u},
               {"thermoplastic", units::in_megohms(facts.result.thermoplastic_at_40->value), u}};
  f.texts.emplace_back("system", !facts.system ? "unknown"
                                 : *facts.system == machine::insulation_system::thermosetting ? "thermosetting"
                                                                                              : "thermoplastic");
  const double scope = rules.practice("insulation_scope_W").value;
  f.texts.emplace_back("borrowed", facts.rated_power_W.value_or(0.0) < scope ? "yes" : "no");
  if (!facts.result.correction_valid) {
    f.says = statement::insulation_outside_correction;
    if (f.outcome == outcome::conforms) f.outcome = outcome::undecided;
  }
  return f;
}

/// The limit is written for the table's test voltage: a lower one flatters the reading.
inline finding test_voltage_finding(const insulation_facts& facts) {
  finding f{.check = check::insulation, .subject = facts.circuit, .bearing = bearing::informs,
            .says = statement::insulation_test_voltage_right, .quantity = "test_voltage"};
  set_value(f, facts.test_voltage_V, 0.0, "V");
  for (const auto& row : tables::insulation_test_voltage) {
    if (!(facts.rated_voltage_V > row.rated_above_V && facts.rated_voltage_V <= row.rated_up_to_V)) continue;
    f.limit_low = row.test_low_V;
    f.limit_high = row.test_high_V;
    f.source = row.source;
  }
  f.outcome = outcome::conforms;
  if (f.limit_low && facts.test_voltage_V < *f.limit_low) {
    f.says = statement::insulation_test_voltage_low;
    f.outcome = outcome::undecided;
    f.bearing = bearing::decides;
  } else if (f.limit_high && facts.test_voltage_V > *f.limit_high) {
    f.says = statement::insulation_test_voltage_high;
    f.outcome = outcome::not_tested;
  }
  return f;
}

inline std::optional<limit> polarization_minimum(const insulation_facts& facts, const policy& rules) {
  if (const auto own = rules.own("polarization_index_minimum")) return own;
  if (!facts.thermal_class) return std::nullopt;
  for (const auto& row : tables::polarization_index_minimum)
    if (static_cast<int>(row.class_C) == static_cast<int>(*facts.thermal_class))
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
  if (rules.judge(index, u, {highest, {}}) == outcome::conforms) f.outcome = outcome::conforms;
  else if (rules.judge(index, u, {lowest, {}}) == outcome::fails) f.outcome = outcome::fails;
}

inline bool random_wound(const insulation_facts& facts) {
  return facts.kind.value_or(machine::winding_kind::random_wound) == machine::winding_kind::random_wound;
}

inline void judge_index(finding& f, const insulation_facts& facts, const policy& rules) {
  const double index = facts.result.polarization->value;
  const double u = facts.result.polarization->standard_uncertainty;
  const auto high = rules.practice("polarization_index_high");
  const auto minimum = polarization_minimum(facts, rules);
  if (rules.judge(index, u, {{}, high.value}) == outcome::fails) {
    f.says = statement::polarization_high;
    f.limit_high = high.value;
    f.source = high.source;
    f.outcome = outcome::undecided;
  } else if (minimum) {
    f.says = statement::polarization_minimum;
    f.limit_low = minimum->value;
    f.source = minimum->source;
    f.outcome = rules.judge(index, u, {minimum->value, {}});
  } else if (facts.thermal_class) {
    f.says = statement::polarization_class_not_listed;
    f.bearing = bearing::does_not_apply;
    f.source = tables::polarization_index_minimum.front().source;
  } else {
    judge_without_class(f, index, u, rules);
  }
  if (rules.polarization_index_informs_only && random_wound(facts)) {
    f.says = statement::polarization_information;
    f.bearing = bearing::informs;
    f.outcome = outcome::not_tested;
  }
}

inline finding polarization_finding(const insulation_facts& facts, const policy& rules) {
  finding f{.check = check::polarization_index, .subject = facts.circuit, .quantity = "polarization_index"};
  f.texts.emplace_back("random_wound", random_wound(facts) ? "yes" : "no");
  if (!facts.result.polarization) {
    f.says = statement::polarization_not_measured;
    f.bearing = bearing::informs;
    return f;
  }
  set_value(f, facts.result.polarization->value, facts.result.polarization->standard_uncertainty, "1");
  const auto ends = rules.practice("polarization_index_ends_Mohm");
  const double at_40 = units::in_megohms(deciding_value(facts).value);
  if (at_40 > ends.value) {
    f.says = statement::polarization_ends;
    f.bearing = bearing::does_not_apply;
    f.source = ends.source;
    f.numbers = {{"at_40", at_40, at_40 * 0.05}, {"ends", ends.value, 100.0}};
    return f;
  }
  judge_index(f, facts, rules);
  return f;
}

}  // namespace detail

/// One circuit's insulation: minimum at one minute and 40 degC, the test voltage, the polarization index where it
/// means something, and the 60 s to 30 s ratio for information (it has no standard limit).
inline std::vector<finding> insulation(const insulation_facts& facts, const policy& rules) {
  std::vector<finding> out{detail::minimum_finding(facts, rules), detail::test_voltage_finding(facts)};
  if (facts.result.at_one_minute) out.push_back(detail::polarization_finding(facts, rules));
  if (facts.result.absorption) {
    finding f{.check = check::insulation, .subject = facts.circuit, .bearing = bearing::informs,
              .says = statement::absorption_information, .quantity = "absorption_ratio",
              .source = "IEEE 43 annex (no standardised limit)"};
    set_value(f, facts.result.absorption->value, facts.result.absorption->standard_uncertainty, "1");
    out.push_back(std::move(f));
  }
  return out;
}

/// The finding of a record without any insulation circuit.
inline finding insulation_missing() {
  return {.check = check::insulation, .says = statement::insulation_not_measured, .quantity = "insulation_at_40_C"};
}

}  // namespace rewound::verdict::rules
