// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cmath>
#include <numbers>
#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include <rewound/base/compiled.hpp>
#include <rewound/checks/earth.hpp>
#include <rewound/checks/leakage.hpp>
#include <rewound/verdict/equipment.hpp>
#include <rewound/verdict/finding.hpp>
#include <rewound/verdict/impl/words.hpp>
#include <rewound/verdict/policy.hpp>
#include <rewound/verdict/rules/touch_safety.hpp>

namespace rewound::verdict::rules {

REWOUND_INLINE earthing earthing_of(const record::machine_section& of) {
  using record::appliance_class;
  if (!of.appliance_class) {
    if (!of.frame_earthed) return earthing::unknown;
    return *of.frame_earthed ? earthing::earthed : earthing::not_earthed;
  }
  constexpr double extra_low_voltage_V = 50.0;  // IEC 61140, alternating voltage (from memory, unverified)
  if (*of.appliance_class == appliance_class::class_III)
    return of.rated_voltage_V <= extra_low_voltage_V ? earthing::low_voltage : earthing::contradiction;
  if (*of.appliance_class == appliance_class::class_I)
    return of.frame_earthed.value_or(true) ? earthing::earthed : earthing::contradiction;
  // A frame without protective earth by its class that is said to be earthed: which of the two is true decides what to
  // test.
  const bool terminal = *of.appliance_class == appliance_class::class_0I;  // which may be connected on its own
  return of.frame_earthed.value_or(false) && !terminal ? earthing::contradiction : earthing::not_earthed;
}

REWOUND_INLINE units::voltage full_leakage_voltage(const record::machine_section& of, const policy& rules) {
  return units::volts(rules.practice.leakage_voltage_factor.value * of.rated_voltage_V);
}

namespace detail {

inline tables::leakage_maximum_key leakage_key(const record::machine_section& of) {
  using record::appliance_class;
  using key = tables::leakage_maximum_key;
  if (!of.appliance_class) return key::unknown;
  switch (*of.appliance_class) {
    case appliance_class::class_0: return key::class_0;
    case appliance_class::class_0I: return key::class_0I;
    case appliance_class::class_I:
      if (!of.portable) return key::class_I;
      return *of.portable ? key::class_I_portable : key::class_I_stationary;
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
inline tables::leakage_maximum_key ul_key(const record::machine_section& of) {
  using key = tables::leakage_maximum_key;
  const auto state = earthing_of(of);
  if (state == earthing::not_earthed) return key::ul_two_wire;
  if (!of.portable || state == earthing::unknown) return key::ul_three_wire;
  return *of.portable ? key::ul_three_wire_portable : key::ul_three_wire_stationary;
}

inline leakage_limits leakage_limits_for(const record::machine_section& of, leakage_kind kind, const policy& rules) {
  if (const auto& own = rules.replaced.leakage_maximum_mA) return {own->value, own->value, own->source};
  // Without an earth conductor there is no current of one: what was read is held against the class's limit.
  const bool conductor = kind == leakage_kind::protective_conductor;
  using key = tables::leakage_maximum_key;
  if (conductor && earthing_of(of) == earthing::earthed) return leakage_row(key::protective_conductor, rules);
  const bool ul = kind != leakage_kind::touch && of.appliance_class != record::appliance_class::class_III &&
                  rules.market_of(of) == market::north_america;
  const auto of_class = leakage_row(ul ? ul_key(of) : leakage_key(of), rules);
  if (kind == leakage_kind::appliance || conductor) return of_class;
  // Two standards limit what a hand may meet; between the stricter and the after-repair one it is not settled.
  const auto touch = leakage_row(key::touch, rules);
  if (of_class.strict >= touch.strict) return touch;
  return {of_class.strict, touch.lenient, of_class.source + "; " + touch.source};
}

/// One reading as the rule sees it.
struct leakage_read {
  const record::leakage_section& entry;
  double standard_uncertainty_mA;
  double factor;  ///< that brings it up to the full voltage
  double capacitance_nF;
};

/// A current read far below the rated voltage, or next to none at all, fails where it fails, but shows nothing good.
inline void doubt_leakage(finding& f, const record::machine_section& of, const leakage_read& read, double full_V,
                          const policy& rules) {
  if (f.outcome != outcome::conforms) return;
  const auto share = rules.practice.leakage_least_voltage_percent;
  const double least_V = share.value / 100.0 * of.rated_voltage_V;
  const double current_mA = read.entry.current_mA;
  const auto& volts = read.entry.voltage_V;
  if (volts && *volts < least_V) {
    f.says = statement::leakage_low_voltage;
    f.outcome = outcome::undecided;
    f.source = share.source;
    f.numbers.insert(f.numbers.end(), {{"volts", *volts}, {"least", least_V, 1.0}, {"full", full_V, 0.1}});
    return;
  }
  const auto& least_pF = rules.practice.leakage_least_pF;
  const double least_mA = 2.0 * std::numbers::pi * of.rated_frequency_Hz * volts.value_or(of.rated_voltage_V) * 1e-9 *
                          least_pF.value;  // pF to mA
  if (current_mA + measurement::coverage_95 * read.standard_uncertainty_mA < least_mA) {
    f.says = statement::leakage_nothing_flows;
    f.outcome = outcome::undecided;
    f.limit_low = least_mA;
    f.source = least_pF.source;
    f.numbers.push_back({"read", current_mA, read.standard_uncertainty_mA});
  }
}

/// Conforms under the strict limit, fails above the lenient one, undecided between them.
inline finding leakage_in(const record::machine_section& of, const leakage_read& read, const policy& rules) {
  const auto& [entry, u_mA, factor, nanofarads] = read;
  const auto limits = leakage_limits_for(of, entry.kind, rules);
  const double full_V = units::in_volts(full_leakage_voltage(of, rules));
  finding f{.check = check::leakage,
            .subject = entry.condition,
            .says = statement::leakage_limit,
            .quantity = "leakage_current",
            .source = limits.source};
  const double current = factor * entry.current_mA;
  set_value(f, current, factor * u_mA, "mA");
  f.limit_high = limits.strict;
  const auto under_strict = rules.judge(current, factor * u_mA, {{}, limits.strict});
  const auto under_lenient = rules.judge(current, factor * u_mA, {{}, limits.lenient});
  if (under_strict == outcome::conforms) f.outcome = outcome::conforms;
  else if (under_lenient == outcome::fails) f.outcome = outcome::fails;
  else f.outcome = outcome::undecided;
  f.numbers = {{"lenient", limits.lenient, 0.01}, {"nanofarad", nanofarads, 0.05 * nanofarads}};
  f.texts = {{"capacitance", nanofarads > 0.0 ? "yes" : "no"},
             {"settle", limits.lenient > limits.strict ? "class" : "no"}};
  if (factor > 1.0) {
    f.says = statement::leakage_brought_up;
    f.numbers.push_back({"read", entry.current_mA, u_mA});
    f.numbers.push_back({"volts", *entry.voltage_V});
    f.numbers.push_back({"full", full_V, 0.1});
  }
  doubt_leakage(f, of, read, full_V, rules);
  return f;
}

/// Without a leakage meter a voltmeter across a resistor that stands for a body shows the same current.
inline void tell_way_of_measuring(finding& f, const record::visit_record& in, double limit_mA, const policy& rules) {
  const auto& have = equipment_of(in.visit, rules);
  const bool meter = record::has_equipment(have, "leakage_meter");
  const bool volts = !have.empty() && !meter && record::has_equipment(have, "voltmeter");
  const double ohms = rules.practice.leakage_resistor_ohm.value;
  const auto by = have.empty() ? "either" : meter ? "meter" : volts ? "resistor" : "others";
  for (const auto* key : {"leakage_by", "leakage_short"}) f.texts.emplace_back(key, by);
  f.numbers.insert(f.numbers.end(),
                   {{"resistor", ohms}, {"kilohm", ohms / 1000.0}, {"most_V", limit_mA * ohms / 1000.0}});
}

/// Whether a release needs leakage: where nothing but the insulation stands between the mains and a hand.
inline bool leakage_needed(const record::machine_section& of) {
  const auto state = earthing_of(of);
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
inline bool ways_needed(const record::machine_section& of, std::vector<checks::leakage_combination> missing,
                        const policy& rules, std::vector<finding>& out) {
  if (!leakage_needed(of) || rules.leakage_all_combinations) return false;
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
inline void tell_missing(const record::visit_record& in, const std::vector<checks::leakage_combination>& missing,
                         const policy& rules, std::vector<finding>& out) {
  const bool protective_only = std::all_of(in.leakage.begin(), in.leakage.end(), [](const auto& entry) {
    return entry.kind == leakage_kind::protective_conductor;
  });
  const bool stated = std::any_of(in.leakage.begin(), in.leakage.end(),
                                  [](const auto& entry) { return entry.reversed && entry.switched_on; });
  if (missing.empty() || (protective_only && !rules.leakage_all_combinations)) return;
  finding f{.check = check::leakage,
            .bearing = bearing::informs,
            .quantity = "leakage_combinations",
            .source = "IEC 60335-1 13.2, UL 507 41.6 (both polarities, switch open and closed)"};
  f.says = stated ? statement::leakage_combinations_missing : statement::leakage_conditions_unstated;
  set_value(f, static_cast<double>(missing.size()), 0.0, "1");
  f.texts = {{"missing", listed(missing)}};
  f.numbers = {{"full", units::in_volts(full_leakage_voltage(in.machine, rules)), 0.1}};
  if (rules.leakage_all_combinations) {
    f.bearing = bearing::decides;
    f.outcome = outcome::undecided;
  }
  out.push_back(std::move(f));
}

/// A frame without an earth has nothing but its insulation: what is asked of it, and what its user is told.
inline void tell_unearthed(const record::machine_section& of, std::vector<finding>& out) {
  if (earthing_of(of) != earthing::not_earthed) return;
  if (of.appliance_class == record::appliance_class::class_II) return;
  finding f{.check = check::leakage,
            .bearing = bearing::informs,
            .says = statement::frame_without_earth,
            .quantity = "earth_conductors",
            .source = "common practice, no source; the local code decides"};
  set_value(f, 0.0, 0.0, "1");
  out.push_back(std::move(f));
}

}  // namespace detail

REWOUND_INLINE std::vector<finding> leakage(const record::visit_record& in, const checks::leakage_result& result,
                                            const measurement::instrument<units::current>& meter, const policy& rules) {
  std::vector<finding> out;
  for (std::size_t i = 0; i < in.leakage.size(); ++i) {
    const auto u = meter.standard_uncertainty(units::milliamperes(in.leakage[i].current_mA));
    out.push_back(detail::leakage_in(
        in.machine, {in.leakage[i], units::in_milliamperes(u), result.factor[i], result.capacitance_nF[i]}, rules));
  }
  if (!out.empty()) {
    if (!detail::ways_needed(in.machine, result.missing, rules, out))
      detail::tell_missing(in, result.missing, rules, out);
    detail::tell_unearthed(in.machine, out);
    return out;
  }
  const auto limits = detail::leakage_limits_for(in.machine, leakage_kind::appliance, rules);
  const auto state = earthing_of(in.machine);
  finding f{.check = check::leakage, .says = statement::leakage_not_measured, .quantity = "leakage_current"};
  f.limit_high = limits.strict;
  if (state == earthing::not_earthed) detail::tell_way_of_measuring(f, in, limits.strict, rules);
  f.source = limits.source;
  if (state == earthing::earthed || state == earthing::low_voltage) {
    f.bearing = bearing::does_not_apply;
    f.says = state == earthing::earthed ? statement::leakage_not_needed : statement::leakage_not_due;
  } else if (state == earthing::unknown) {
    f.says = statement::earthing_unknown;
  }
  out.push_back(std::move(f));
  detail::tell_unearthed(in.machine, out);
  return out;
}

namespace detail {

/// The cord's length, and what is found where two entries differ on it: the limit grows with the length, and nothing is
/// granted that only one of them says.
struct cord_length {
  std::optional<double> granted_m;
  std::optional<finding> contradiction;
};

inline cord_length cord_length_of(const record::visit_record& in, const policy& rules) {
  const auto beside_reading = in.earth ? in.earth->cord_length_m : std::nullopt;
  const auto of_cord = in.cord ? in.cord->length_m : std::nullopt;
  if (!beside_reading || !of_cord) return {beside_reading ? beside_reading : of_cord, {}};
  const auto allowed = rules.practice.cord_length_percent;
  if (std::abs(*beside_reading - *of_cord) <= allowed.value / 100.0 * std::max(*beside_reading, *of_cord))
    return {beside_reading, {}};
  finding f{.check = check::earth,
            .outcome = outcome::undecided,
            .says = statement::earth_cord_contradiction,
            .quantity = "cord_length",
            .source = std::string(allowed.source),
            .numbers = {{"length", *beside_reading}, {"cord_length", *of_cord}}};
  set_value(f, *beside_reading, 0.0, "m");
  return {std::min(*beside_reading, *of_cord), std::move(f)};
}

/// The largest resistance for the length of the cord; the shortest is assumed where none is stated, and only whole
/// steps of length are granted.
inline limit earth_maximum(const std::optional<double>& cord_m, const policy& rules) {
  if (const auto& own = rules.replaced.earth_maximum_ohm) return *own;
  const auto row = rules.laid(tables::earth_continuity_maximum).front();
  const double beyond_m = std::max(cord_m.value_or(0.0) - row.up_to_m, 0.0);
  constexpr double rounding = 1e-9;
  const double steps = std::floor(beyond_m / row.step_m + rounding);  // a policy cannot make the step 0
  return {std::min(row.maximum_ohm + steps * row.step_ohm, std::max(row.most_ohm, row.maximum_ohm)),
          std::string(row.source)};
}

/// What is left of the reading without the cord's core, beside the limit for the machine alone. It decides in the
/// market that has this limit; in the other one it informs, and that with the cord decides.
inline void tell_without_cord(const record::machine_section& of, const checks::earth_result& split, double u_ohm,
                              const policy& rules, std::vector<finding>& out) {
  if (!split.without) return;
  const auto row = rules.laid(tables::earth_grounding_maximum).front();
  finding f{.check = check::earth,
            .bearing = rules.market_of(of) == market::north_america ? bearing::decides : bearing::informs,
            .says = statement::earth_without_cord,
            .quantity = "earth_without_cord",
            .source = std::string(row.source) + "; core by IEC 60228 class 5"};
  const double left = units::in_ohms(*split.without);
  set_value(f, left, u_ohm, "ohm");
  f.limit_high = row.maximum_ohm;
  const auto met = rules.judge(left, u_ohm, {{}, row.maximum_ohm});
  f.outcome = met == outcome::conforms ? outcome::conforms : outcome::undecided;
  f.numbers = {{"core", units::in_ohms(*split.core), 0.001}};
  out.push_back(std::move(f));
}

/// Classes whose frame has no earth at all, 0, II and III (0I has a terminal for one), and frames said to have none.
inline bool has_no_earth(const record::machine_section& of) {
  using record::appliance_class;
  return of.frame_earthed == false || of.appliance_class == appliance_class::class_0 ||
         of.appliance_class == appliance_class::class_II || of.appliance_class == appliance_class::class_III;
}

inline std::vector<finding> earth_by_length(const record::visit_record& in, const std::optional<double>& cord_m,
                                            const checks::earth_result& split, double u_ohm, const policy& rules) {
  const auto limit = earth_maximum(cord_m, rules);
  finding f{
      .check = check::earth, .says = statement::earth_limit, .quantity = "earth_continuity", .source = limit.source};
  f.limit_high = limit.value;
  f.texts = {{"cord", cord_m ? "known" : "unknown"}};
  f.numbers = {{"length", cord_m.value_or(0.0)}};
  const auto state = earthing_of(in.machine);
  if (state == earthing::contradiction) {
    f.says = statement::earthing_contradiction;
    f.outcome = outcome::fails;
    return {f};
  }
  if (in.earth) {
    set_value(f, in.earth->continuity_ohm, u_ohm, "ohm");
    f.outcome = rules.judge(in.earth->continuity_ohm, u_ohm, {{}, limit.value});
    if (has_no_earth(in.machine)) {
      f.says = statement::earth_not_expected;
      f.texts.emplace_back("class", class_key(in.machine.appliance_class));
      if (f.outcome == outcome::conforms) f.outcome = outcome::undecided;
    }
    std::vector<finding> out{f};
    tell_without_cord(in.machine, split, u_ohm, rules, out);
    return out;
  }
  // Class 0I has no earth in its cord, but a terminal for one: its frame has to be connected with that.
  const bool terminal =
      in.machine.appliance_class == record::appliance_class::class_0I && in.machine.frame_earthed.value_or(true);
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

}  // namespace detail

REWOUND_INLINE std::vector<finding> earth(const record::visit_record& in, const checks::earth_result& split,
                                          double standard_uncertainty_ohm, const policy& rules) {
  auto cord = detail::cord_length_of(in, rules);
  auto out = detail::earth_by_length(in, cord.granted_m, split, standard_uncertainty_ohm, rules);
  if (cord.contradiction) out.push_back(std::move(*cord.contradiction));
  return out;
}

}  // namespace rewound::verdict::rules
