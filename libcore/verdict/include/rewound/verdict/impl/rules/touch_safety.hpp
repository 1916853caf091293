// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cmath>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include <rewound/base/compiled.hpp>
#include <rewound/checks/earth.hpp>
#include <rewound/checks/leakage.hpp>
#include <rewound/record/appliance_class.hpp>
#include <rewound/record/leakage_kind.hpp>
#include <rewound/verdict/finding.hpp>
#include <rewound/verdict/policy.hpp>
#include <rewound/verdict/rules/touch_safety.hpp>

namespace rewound::verdict::rules {

REWOUND_INLINE earthing earthing_of(const touch_facts& facts) {
  using record::appliance_class;
  if (!facts.appliance_class) {
    if (!facts.frame_earthed) return earthing::unknown;
    return *facts.frame_earthed ? earthing::earthed : earthing::not_earthed;
  }
  constexpr double extra_low_voltage_V = 50.0;  // IEC 61140, alternating voltage (from memory, unverified)
  if (*facts.appliance_class == appliance_class::class_III)
    return facts.rated_voltage_V <= extra_low_voltage_V ? earthing::low_voltage : earthing::contradiction;
  if (*facts.appliance_class == appliance_class::class_I)
    return facts.frame_earthed.value_or(true) ? earthing::earthed : earthing::contradiction;
  // A frame without protective earth by its class that is said to be earthed: which of the two is true decides what to
  // test.
  const bool terminal = *facts.appliance_class == appliance_class::class_0I;  // which may be connected on its own
  return facts.frame_earthed.value_or(false) && !terminal ? earthing::contradiction : earthing::not_earthed;
}

namespace detail {

inline std::string_view class_key(const std::optional<record::appliance_class>& value) {
  using record::appliance_class;
  if (!value) return "unknown";
  switch (*value) {
    case appliance_class::class_0: return "class_0";
    case appliance_class::class_0I: return "class_0I";
    case appliance_class::class_I: return "class_I";
    case appliance_class::class_II: return "class_II";
    case appliance_class::class_III: return "class_III";
  }
  return "unknown";
}

inline tables::leakage_maximum_key leakage_key(const touch_facts& facts) {
  using record::appliance_class;
  using key = tables::leakage_maximum_key;
  if (!facts.appliance_class) return key::unknown;
  switch (*facts.appliance_class) {
    case appliance_class::class_0: return key::class_0;
    case appliance_class::class_0I: return key::class_0I;
    case appliance_class::class_I:
      if (!facts.portable) return key::class_I;
      return *facts.portable ? key::class_I_portable : key::class_I_stationary;
    case appliance_class::class_II: return key::class_II;
    case appliance_class::class_III: return key::class_III;
  }
  return key::unknown;
}

struct leakage_limits {
  double strict;
  double lenient;
  std::string source;
};

inline leakage_limits leakage_row(tables::leakage_maximum_key key, const policy& rules) {
  const auto row = rules.row(tables::leakage_maximum, key);
  return {std::min(row.strict_mA, row.lenient_mA), row.lenient_mA, std::string(row.source)};
}

/// With an earth conductor a machine is a three-wire one.
inline tables::leakage_maximum_key ul_key(const touch_facts& facts) {
  using key = tables::leakage_maximum_key;
  const auto state = earthing_of(facts);
  if (state == earthing::not_earthed) return key::ul_two_wire;
  if (!facts.portable || state == earthing::unknown) return key::ul_three_wire;
  return *facts.portable ? key::ul_three_wire_portable : key::ul_three_wire_stationary;
}

inline leakage_limits leakage_limits_for(const touch_facts& facts, leakage_kind kind, const policy& rules) {
  if (const auto& own = rules.replaced.leakage_maximum_mA) return {own->value, own->value, own->source};
  // Without an earth conductor there is no current of one: what was read is held against the class's limit.
  const bool conductor = kind == leakage_kind::protective_conductor;
  using key = tables::leakage_maximum_key;
  if (conductor && earthing_of(facts) == earthing::earthed) return leakage_row(key::protective_conductor, rules);
  const bool ul = kind != leakage_kind::touch && facts.appliance_class != record::appliance_class::class_III &&
                  rules.market_of(facts.rated_frequency_Hz) == market::north_america;
  const auto of_class = leakage_row(ul ? ul_key(facts) : leakage_key(facts), rules);
  if (kind == leakage_kind::appliance || conductor) return of_class;
  // Two standards limit what a hand may meet; between the stricter and the after-repair one it is not settled.
  const auto touch = leakage_row(key::touch, rules);
  if (of_class.strict >= touch.strict) return touch;
  return {of_class.strict, touch.lenient, of_class.source + "; " + touch.source};
}

/// A current read far below the rated voltage, or next to none at all, fails where it fails, but shows nothing good.
inline void doubt_leakage(finding& f, const touch_facts& facts, const touch_facts::leakage_reading& reading,
                          const policy& rules) {
  if (f.outcome != outcome::conforms) return;
  const auto share = rules.practice.leakage_least_voltage_percent;
  const double least_V = share.value / 100.0 * facts.rated_voltage_V;
  if (reading.voltage_V && *reading.voltage_V < least_V) {
    f.says = statement::leakage_low_voltage;
    f.outcome = outcome::undecided;
    f.source = share.source;
    f.numbers.insert(f.numbers.end(),
                     {{"volts", *reading.voltage_V}, {"least", least_V, 1.0}, {"full", facts.full_voltage_V, 0.1}});
    return;
  }
  const double most_mA = reading.current_mA + measurement::coverage_95 * reading.standard_uncertainty_mA;
  if (most_mA < reading.least_mA) {
    f.says = statement::leakage_nothing_flows;
    f.outcome = outcome::undecided;
    f.limit_low = reading.least_mA;
    f.source = rules.practice.leakage_least_pF.source;
    f.numbers.push_back({"read", reading.current_mA, reading.standard_uncertainty_mA});
  }
}

/// Conforms under the strict limit, fails above the lenient one, undecided between them.
inline finding leakage_in(const touch_facts& facts, const touch_facts::leakage_reading& reading, const policy& rules) {
  const auto limits = leakage_limits_for(facts, reading.kind, rules);
  finding f{.check = check::leakage,
            .subject = reading.condition,
            .says = statement::leakage_limit,
            .quantity = "leakage_current",
            .source = limits.source};
  const double current = reading.factor * reading.current_mA;
  const double u = reading.factor * reading.standard_uncertainty_mA;
  set_value(f, current, u, "mA");
  f.limit_high = limits.strict;
  const auto under_strict = rules.judge(current, u, {{}, limits.strict});
  const auto under_lenient = rules.judge(current, u, {{}, limits.lenient});
  if (under_strict == outcome::conforms) f.outcome = outcome::conforms;
  else if (under_lenient == outcome::fails) f.outcome = outcome::fails;
  else f.outcome = outcome::undecided;
  f.numbers.push_back({"lenient", limits.lenient, 0.01});
  f.numbers.push_back({"nanofarad", reading.capacitance_nF, 0.05 * reading.capacitance_nF});
  f.texts = {{"capacitance", reading.capacitance_nF > 0.0 ? "yes" : "no"},
             {"settle", limits.lenient > limits.strict ? "class" : "no"}};
  if (reading.factor > 1.0) {
    f.says = statement::leakage_brought_up;
    f.numbers.push_back({"read", reading.current_mA, reading.standard_uncertainty_mA});
    f.numbers.push_back({"volts", *reading.voltage_V});
    f.numbers.push_back({"full", facts.full_voltage_V, 0.1});
  }
  doubt_leakage(f, facts, reading, rules);
  return f;
}

/// Whether a release needs leakage: where nothing but the insulation stands between the mains and a hand.
inline bool leakage_needed(const touch_facts& facts) {
  const auto state = earthing_of(facts);
  return state == earthing::not_earthed || state == earthing::unknown;
}

inline std::string listed(const std::vector<checks::leakage_combination>& ways) {
  std::string out;
  for (const auto& way : ways)
    out += std::string(out.empty() ? "" : "; ") + "polarity " + (way.reversed ? "reversed" : "normal") + ", switch " +
           (way.switched_on ? "on" : "off");
  return out;
}

/// Behind an open switch the winding is dead in one polarity: only with the switch on, both ways round, is all of it
/// on the mains once. Without these two, leakage that is needed has not been measured.
inline bool ways_needed(const touch_facts& facts, const policy& rules, std::vector<finding>& out) {
  if (!leakage_needed(facts) || rules.leakage_all_combinations) return false;
  auto missing = facts.missing;
  std::erase_if(missing, [](const auto& way) { return !way.switched_on; });
  if (missing.empty()) return false;
  finding f{.check = check::leakage,
            .outcome = outcome::undecided,
            .says = statement::leakage_ways_needed,
            .quantity = "leakage_combinations",
            .source = "IEC 60335-1 13.2, UL 507 41.6 (both polarities)",
            .texts = {{"missing", listed(missing)}}};
  set_value(f, static_cast<double>(missing.size()), 0.0, "1");
  out.push_back(std::move(f));
  return true;
}

/// Which of the four ways of reading leakage are missing: told, and in the way where the policy asks for all.
inline void tell_missing(const touch_facts& facts, const policy& rules, std::vector<finding>& out) {
  const bool protective_only = std::all_of(facts.leakage.begin(), facts.leakage.end(), [](const auto& reading) {
    return reading.kind == leakage_kind::protective_conductor;
  });
  if (facts.missing.empty() || (protective_only && !rules.leakage_all_combinations)) return;
  finding f{.check = check::leakage,
            .bearing = bearing::informs,
            .quantity = "leakage_combinations",
            .source = "IEC 60335-1 13.2, UL 507 41.6 (both polarities, switch open and closed)"};
  f.says = facts.conditions_stated ? statement::leakage_combinations_missing : statement::leakage_conditions_unstated;
  set_value(f, static_cast<double>(facts.missing.size()), 0.0, "1");
  f.texts = {{"missing", listed(facts.missing)}};
  f.numbers = {{"full", facts.full_voltage_V, 0.1}};
  if (rules.leakage_all_combinations) {
    f.bearing = bearing::decides;
    f.outcome = outcome::undecided;
  }
  out.push_back(std::move(f));
}

/// A frame without an earth has nothing but its insulation: what is asked of it, and what its user is told.
inline void tell_unearthed(const touch_facts& facts, std::vector<finding>& out) {
  if (earthing_of(facts) != earthing::not_earthed) return;
  if (facts.appliance_class == record::appliance_class::class_II) return;
  finding f{.check = check::leakage,
            .bearing = bearing::informs,
            .says = statement::frame_without_earth,
            .quantity = "earth_conductors",
            .source = "common practice, no source; the local code decides"};
  set_value(f, 0.0, 0.0, "1");
  out.push_back(std::move(f));
}

}  // namespace detail

REWOUND_INLINE std::vector<finding> leakage(const touch_facts& facts, const policy& rules) {
  std::vector<finding> out;
  for (const auto& reading : facts.leakage) out.push_back(detail::leakage_in(facts, reading, rules));
  if (!out.empty()) {
    if (!detail::ways_needed(facts, rules, out)) detail::tell_missing(facts, rules, out);
    detail::tell_unearthed(facts, out);
    return out;
  }
  const auto limits = detail::leakage_limits_for(facts, leakage_kind::appliance, rules);
  const auto state = earthing_of(facts);
  finding f{.check = check::leakage, .says = statement::leakage_not_measured, .quantity = "leakage_current"};
  f.limit_high = limits.strict;
  f.source = limits.source;
  if (state == earthing::earthed || state == earthing::low_voltage) {
    f.bearing = bearing::does_not_apply;
    f.says = state == earthing::earthed ? statement::leakage_not_needed : statement::leakage_not_due;
  } else if (state == earthing::unknown) {
    f.says = statement::earthing_unknown;
  }
  out.push_back(std::move(f));
  detail::tell_unearthed(facts, out);
  return out;
}

namespace detail {

/// The largest resistance for the length of the cord; the shortest is assumed where none is stated, and only whole
/// steps of length are granted.
inline limit earth_maximum(const touch_facts& facts, const policy& rules) {
  if (const auto& own = rules.replaced.earth_maximum_ohm) return *own;
  const auto row = rules.laid(tables::earth_continuity_maximum).front();
  const double beyond_m = std::max(facts.cord_m.value_or(0.0) - row.up_to_m, 0.0);
  constexpr double rounding = 1e-9;
  const double steps = std::floor(beyond_m / row.step_m + rounding);  // a policy cannot make the step 0
  return {std::min(row.maximum_ohm + steps * row.step_ohm, std::max(row.most_ohm, row.maximum_ohm)),
          std::string(row.source)};
}

/// What is left of the reading without the cord's core, beside the limit for the machine alone. For information: the
/// limit with the cord decides.
inline void tell_without_cord(const touch_facts& facts, const policy& rules, std::vector<finding>& out) {
  if (!facts.earth.without) return;
  const auto row = rules.laid(tables::earth_grounding_maximum).front();
  finding f{.check = check::earth,
            .bearing = bearing::informs,
            .says = statement::earth_without_cord,
            .quantity = "earth_without_cord",
            .source = std::string(row.source) + "; core by IEC 60228 class 5"};
  const double left = units::in_ohms(*facts.earth.without);
  set_value(f, left, facts.earth_standard_uncertainty_ohm, "ohm");
  f.limit_high = row.maximum_ohm;
  const auto met = rules.judge(left, facts.earth_standard_uncertainty_ohm, {{}, row.maximum_ohm});
  f.outcome = met == outcome::conforms ? outcome::conforms : outcome::undecided;
  f.numbers = {{"core", units::in_ohms(*facts.earth.core), 0.001}};
  out.push_back(std::move(f));
}

/// Classes whose frame has no earth at all, 0, II and III (0I has a terminal for one), and frames said to have none.
inline bool has_no_earth(const touch_facts& facts) {
  using record::appliance_class;
  return facts.frame_earthed == false || facts.appliance_class == appliance_class::class_0 ||
         facts.appliance_class == appliance_class::class_II || facts.appliance_class == appliance_class::class_III;
}

}  // namespace detail

REWOUND_INLINE std::vector<finding> earth(const touch_facts& facts, const policy& rules) {
  if (facts.cord_m && facts.other_cord_m) {
    const double apart = std::abs(*facts.cord_m - *facts.other_cord_m);
    const auto allowed = rules.practice.cord_length_percent;
    if (apart > allowed.value / 100.0 * std::max(*facts.cord_m, *facts.other_cord_m)) {
      finding f{.check = check::earth,
                .outcome = outcome::undecided,
                .says = statement::earth_cord_contradiction,
                .quantity = "cord_length",
                .source = std::string(allowed.source),
                .numbers = {{"length", *facts.cord_m}, {"cord_length", *facts.other_cord_m}}};
      set_value(f, *facts.cord_m, 0.0, "m");
      auto shorter = facts;  // the limit grows with the length: nothing is granted that only one of two entries says
      shorter.cord_m = std::min(*facts.cord_m, *facts.other_cord_m);
      shorter.other_cord_m.reset();
      auto out = earth(shorter, rules);
      out.push_back(std::move(f));
      return out;
    }
  }
  const auto limit = detail::earth_maximum(facts, rules);
  finding f{
      .check = check::earth, .says = statement::earth_limit, .quantity = "earth_continuity", .source = limit.source};
  f.limit_high = limit.value;
  f.texts = {{"cord", facts.cord_m ? "known" : "unknown"}};
  f.numbers = {{"length", facts.cord_m.value_or(0.0)}};
  const auto state = earthing_of(facts);
  if (state == earthing::contradiction) {
    f.says = statement::earthing_contradiction;
    f.outcome = outcome::fails;
    return {f};
  }
  if (facts.earth_ohm) {
    set_value(f, *facts.earth_ohm, facts.earth_standard_uncertainty_ohm, "ohm");
    f.outcome = rules.judge(*facts.earth_ohm, facts.earth_standard_uncertainty_ohm, {{}, limit.value});
    if (detail::has_no_earth(facts)) {
      f.says = statement::earth_not_expected;
      f.texts.emplace_back("class", detail::class_key(facts.appliance_class));
      if (f.outcome == outcome::conforms) f.outcome = outcome::undecided;
    }
    std::vector<finding> out{f};
    detail::tell_without_cord(facts, rules, out);
    return out;
  }
  // Class 0I has no earth in its cord, but a terminal for one: its frame has to be connected with that.
  const bool terminal =
      facts.appliance_class == record::appliance_class::class_0I && facts.frame_earthed.value_or(true);
  if (state == earthing::earthed || terminal) {
    f.says = statement::earth_not_measured;
  } else if (state == earthing::unknown) {
    f.says = statement::earthing_unknown;
  } else {
    f.bearing = bearing::does_not_apply;
    f.says = statement::earth_not_due;
  }
  return {f};
}

}  // namespace rewound::verdict::rules
