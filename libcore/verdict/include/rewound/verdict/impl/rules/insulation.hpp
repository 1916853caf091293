// SPDX-License-Identifier: MIT
#pragma once

#include <vector>

#include <rewound/base/compiled.hpp>
#include <rewound/verdict/impl/rules/tested_circuit.hpp>
#include <rewound/verdict/rules/insulation.hpp>
#include <rewound/verdict/rules/tested_circuit.hpp>
#include <rewound/verdict/rules/polarization.hpp>

namespace rewound::verdict::rules {

namespace detail {

/// Texts that say under what assumptions the minimum was chosen and the reading corrected.
inline void tell_assumptions(finding& f, const tested_circuit& of, const policy& rules) {
  const auto& machine = of.in.machine;
  f.texts.emplace_back("system", !machine.insulation_system ? "unknown"
                                 : *machine.insulation_system == record::insulation_system::thermosetting
                                     ? "thermosetting"
                                     : "thermoplastic");
  const bool year_matters = !wound_year(of.in) && machine.winding_kind != record::winding_kind::field;
  f.texts.emplace_back("era", rules.replaced.insulation_minimum_Mohm                   ? "own"
                              : year_matters                                           ? "unstated"
                              : machine.winding_kind == record::winding_kind::armature ? "armature"
                                                                                       : "stated");
  f.texts.emplace_back("connection", word_of(record::words::connection, of.entry.connection));
  f.texts.emplace_back("winding_from", !of.entry.winding_C ? "air" : "winding");
  f.texts.emplace_back("borrowed",
                       machine.rated_power_W.value_or(0.0) < rules.practice.insulation_scope_W.value ? "yes" : "no");
}

/// Outside 10 to 85 degC the thermosetting formula says nothing, but resistance falls with temperature: of a winding
/// below 10 degC the reading is more than it has at 40 degC, of one above 85 degC less. So a cold reading can fail and
/// a hot one conform as it stands; neither can do the other.
inline void judge_outside(finding& f, const tested_circuit& of, const policy& rules, double minimum) {
  f.says = statement::insulation_outside_correction;
  const auto& read = *of.found.result.at_one_minute;
  const auto as_read = judge_factor(rules, units::in_megohms(read.value), relative_u(read), minimum);
  const bool cold = winding_C(of.in, of.entry) < 40.0;
  f.outcome = as_read == (cold ? outcome::fails : outcome::conforms) ? as_read : outcome::undecided;
}

/// What no reading of a winding is like, and what only holds if an entry does: neither may conform.
inline void doubt_insulation(finding& f, const tested_circuit& of, const policy& rules) {
  const double read = units::in_megohms(of.found.result.at_one_minute->value) * connection_divisor(of.entry.connection);
  const auto most = rules.practice.insulation_most_Mohm;
  if (read > most.value) {
    f.says = statement::insulation_impossible;
    f.limit_high = most.value;
    f.source = most.source;
    f.outcome = outcome::undecided;
    return;
  }
  if (f.outcome == outcome::conforms && of.found.if_at_air &&
      judge_factor(rules, units::in_megohms(of.found.if_at_air->value), relative_u(*of.found.if_at_air),
                   *f.limit_low) != outcome::conforms) {
    f.says = statement::insulation_winding_warm;
    f.outcome = outcome::undecided;
    f.numbers.push_back({"air_C", of.in.visit.ambient_C.value_or(20.0), 0.5});
    f.numbers.push_back({"at_air", units::in_megohms(of.found.if_at_air->value),
                         units::in_megohms(of.found.if_at_air->standard_uncertainty)});
    f.texts.emplace_back("air", of.in.visit.ambient_C ? "read" : "taken");
  }
}

/// A value at 40 degC against the winding's minimum and, where it is new today, against what new windings show.
inline outcome against_minima(const measurement::uncertain<units::resistance>& value, double minimum, bool fresh,
                              const policy& rules) {
  const auto judged = [&](double least) {
    return judge_factor(rules, units::in_megohms(value.value), relative_u(value), least);
  };
  const auto out = judged(minimum);
  if (!fresh || out != outcome::conforms) return out;
  return judged(rules.practice.fresh_winding_Mohm.value) == out ? out : outcome::undecided;
}

/// What is not stated never fails a machine: where the insulation system or the year of the winding is not known, the
/// value is worked out by every reading of the standard that may apply, and decides where they agree. Where they do not
/// and one of them conforms, entering the fact may settle it; where none does, only a better reading can.
inline void judge_unstated(finding& f, const tested_circuit& of, const policy& rules) {
  const auto& machine = of.in.machine;
  const bool fresh = rewound_now(of.in);
  std::vector<measurement::uncertain<units::resistance>> values{deciding_value(of)};
  if (!machine.insulation_system) values = {*of.found.result.thermosetting_at_40, *of.found.result.thermoplastic_at_40};
  std::vector<double> minima{*f.limit_low};
  const bool year_matters = !wound_year(of.in) && !rules.replaced.insulation_minimum_Mohm &&
                            machine.winding_kind != record::winding_kind::field;
  if (year_matters) {
    constexpr int old = 1900;
    minima.push_back(insulation_minimum(machine, old, rules).value);
  }
  const auto conforms = [&](const auto& all_values, const auto& all_minima) {
    for (const auto& value : all_values)
      for (const double minimum : all_minima)
        if (against_minima(value, minimum, fresh, rules) == outcome::conforms) return true;
    return false;
  };
  if (f.outcome == outcome::conforms) return;
  if (conforms(values, minima)) {
    const bool system_alone = conforms(values, std::vector{*f.limit_low});
    const bool year_alone = conforms(std::vector{deciding_value(of)}, minima);
    f.says = statement::insulation_unstated;
    f.outcome = outcome::undecided;
    f.texts.emplace_back("unstated", system_alone && !year_alone   ? "system"
                                     : year_alone && !system_alone ? "year"
                                                                   : "both");
    return;
  }
  for (const auto& value : values)
    for (const double minimum : minima)
      if (against_minima(value, minimum, fresh, rules) != outcome::fails) f.outcome = outcome::undecided;
}

/// A winding that is new today and shows a few megohms is damp or not cured, though the minimum is met.
inline void look_at_fresh(finding& f, const tested_circuit& of, const policy& rules) {
  const auto least = rules.practice.fresh_winding_Mohm;
  if (!rewound_now(of.in) || f.outcome == outcome::fails || f.says == statement::insulation_unstated) return;
  auto value = deciding_value(of);
  if (of.found.if_at_air && of.found.if_at_air->value < value.value)
    value = *of.found.if_at_air;  // warm by an entry alone
  if (judge_factor(rules, units::in_megohms(value.value), relative_u(value), least.value) == outcome::conforms) return;
  f.says = statement::insulation_fresh_low;
  f.outcome = outcome::undecided;
  f.limit_low = least.value;
  f.source = std::string(least.source);
}

inline finding minimum_finding(const tested_circuit& of, const policy& rules) {
  finding f{.check = check::insulation, .subject = of.entry.circuit, .quantity = "insulation_at_40_C"};
  if (!of.found.result.at_one_minute) {
    f.says = statement::insulation_no_one_minute;
    f.texts.emplace_back("fitted", "no");
    return f;
  }
  const auto minimum = insulation_minimum(of.in.machine, wound_year(of.in), rules);
  const auto value = deciding_value(of);
  const double megohm = units::in_megohms(value.value);
  f.says = statement::insulation_minimum;
  set_factor_value(f, megohm, relative_u(value), "Mohm");
  f.limit_low = minimum.value;
  f.source = minimum.source + ", corrected by IEEE 43-2013 6.3 (thermosetting coefficients from memory, unverified)";
  f.outcome = against_minima(value, minimum.value, rewound_now(of.in), rules);
  judge_unstated(f, of, rules);
  look_at_fresh(f, of, rules);
  const auto mention = [&](const char* key, const measurement::uncertain<units::resistance>& r, double factor) {
    f.numbers.push_back({key, factor * units::in_megohms(r.value), factor * units::in_megohms(r.standard_uncertainty)});
  };
  mention("read", *of.found.result.at_one_minute, connection_divisor(of.entry.connection));
  mention("thermosetting", *of.found.result.thermosetting_at_40, 1.0);
  mention("thermoplastic", *of.found.result.thermoplastic_at_40, 1.0);
  const double u = of.found.winding_standard_uncertainty_K;
  f.numbers.push_back({"winding_C", winding_C(of.in, of.entry), u});
  f.numbers.push_back({"winding_half", measurement::coverage_95 * u, u});
  tell_assumptions(f, of, rules);
  if (!of.found.result.correction_valid && deciding_system_of(of) == record::insulation_system::thermosetting)
    judge_outside(f, of, rules, minimum.value);
  doubt_insulation(f, of, rules);
  // Between two windings a good value says nothing of what a hand may touch: it is told, and only a bad one counts.
  if (!of.found.to_frame && f.outcome == outcome::conforms) f.bearing = bearing::informs;
  // The limit is for a reading: what the curve says between readings may condemn, but not release.
  if (!of.found.result.one_minute_read) {
    f.says = statement::insulation_no_one_minute;
    f.texts.emplace_back("fitted", "yes");
    if (f.outcome == outcome::conforms) f.outcome = outcome::undecided;
  }
  return f;
}

/// A fall since the earlier visit: told when it is certain, in the way when it is large and ends low.
inline std::optional<finding> fall_finding(const tested_circuit& of, const policy& rules) {
  if (!of.found.earlier_at_40 || !of.found.result.at_one_minute || !of.found.result.one_minute_read)
    return std::nullopt;
  const auto now = deciding_value(of);
  const double factor = (of.found.earlier_at_40->value / now.value).value();
  const double u = std::hypot(relative_u(now), relative_u(*of.found.earlier_at_40));
  const auto least = rules.practice.trend_step_factor;
  if (std::log(factor / least.value) < measurement::coverage_95 * u) return std::nullopt;
  finding f{.check = check::insulation,
            .subject = of.entry.circuit,
            .bearing = bearing::informs,
            .says = statement::insulation_fell,
            .quantity = "fall_since_earlier",
            .source = std::string(least.source)};
  set_factor_value(f, factor, u, "1");
  f.numbers = {{"earlier", units::in_megohms(of.found.earlier_at_40->value),
                units::in_megohms(of.found.earlier_at_40->standard_uncertainty)},
               {"now", units::in_megohms(now.value), units::in_megohms(now.standard_uncertainty)}};
  const auto most = rules.practice.insulation_fall_factor;
  if (factor > most.value && units::in_megohms(now.value) < rules.practice.insulation_fall_matters_Mohm.value) {
    f.bearing = bearing::decides;
    f.outcome = outcome::undecided;
    f.limit_high = most.value;
    f.source = most.source;
  }
  return f;
}

/// The limit is written for the table's test voltage: a lower one flatters the reading.
inline finding test_voltage_finding(const tested_circuit& of, const policy& rules) {
  const double rated_V = of.in.machine.rated_voltage_V;
  finding f{.check = check::insulation,
            .subject = of.entry.circuit,
            .bearing = bearing::informs,
            .says = statement::insulation_test_voltage_right,
            .quantity = "test_voltage"};
  set_value(f, of.entry.test_voltage_V, 0.0, "V");
  for (const auto& row : tables::insulation_test_voltage) {
    if (!(rated_V > row.rated_above_V && rated_V <= row.rated_up_to_V)) continue;
    f.limit_low = row.test_low_V;
    f.limit_high = row.test_high_V;
    f.source = row.source;
  }
  f.outcome = outcome::conforms;
  if (f.limit_low && of.entry.test_voltage_V < *f.limit_low) {
    f.says = statement::insulation_test_voltage_low;
    f.outcome = outcome::undecided;
    f.bearing = bearing::decides;
  } else if (f.limit_high && of.entry.test_voltage_V > *f.limit_high) {
    f.says = statement::insulation_test_voltage_high;
    f.outcome = outcome::not_tested;
    if (const auto over = rules.practice.insulation_overvoltage; of.entry.test_voltage_V > over.value * *f.limit_high) {
      f.says = statement::insulation_test_voltage_impossible;
      f.outcome = outcome::undecided;
      f.bearing = bearing::decides;
      f.limit_high = over.value * *f.limit_high;
      f.source += "; " + std::string(over.source);
    }
  }
  return f;
}

/// What an appliance is asked after repair, for the reading as it stands: a floor far under that of the winding itself.
inline std::optional<finding> appliance_finding(const tested_circuit& of, const policy& rules) {
  if (!of.found.to_frame || !of.found.result.at_one_minute || !of.found.result.one_minute_read) return std::nullopt;
  const auto which = class_key(of.in.machine.appliance_class);
  for (const auto& row : tables::appliance_insulation_minimum) {
    if (row.appliance_class != which) continue;
    finding f{.check = check::insulation,
              .subject = of.entry.circuit,
              .says = statement::insulation_appliance_minimum,
              .quantity = "insulation_as_read",
              .limit_low = row.minimum_Mohm,
              .source = std::string(row.source)};
    const auto& read = *of.found.result.at_one_minute;
    set_factor_value(f, units::in_megohms(read.value), relative_u(read), "Mohm");
    f.outcome = judge_factor(rules, *f.value, relative_u(read), row.minimum_Mohm);
    return f;
  }
  return std::nullopt;
}

/// A curve that no sound winding makes at constant voltage leaves the test undecided: it is made again.
inline std::optional<finding> curve_finding(const tested_circuit& of, const policy& rules) {
  using checks::insulation_curve_shape;
  finding f{.check = check::insulation,
            .subject = of.entry.circuit,
            .outcome = outcome::undecided,
            .quantity = "insulation_time_curve"};
  switch (of.found.curve.shape) {
    case insulation_curve_shape::too_few:
    case insulation_curve_shape::as_usual: return std::nullopt;
    case insulation_curve_shape::falling: f.says = statement::insulation_curve_falling; break;
    case insulation_curve_shape::dipping: f.says = statement::insulation_curve_dipping; break;
    case insulation_curve_shape::erratic: f.says = statement::insulation_curve_erratic; break;
    case insulation_curve_shape::steep: f.says = statement::insulation_curve_steep; break;
  }
  const auto least = rules.practice.insulation_curve_percent;
  if (std::abs(of.found.curve.change - 1.0) < least.value / 100.0) return std::nullopt;
  f.value = 100.0 * (of.found.curve.change - 1.0);
  f.unit = "%";
  f.source = least.source;
  f.numbers = {{"number", static_cast<double>(of.found.curve.index.value_or(0) + 1)}};
  return f;
}

/// A winding at or below the dew point is wet on its surface, and dry air says nothing of a winding that is colder.
inline finding dew_point_finding(const tested_circuit& of, const policy& rules) {
  finding f{.check = check::insulation,
            .subject = of.entry.circuit,
            .bearing = bearing::informs,
            .says = statement::insulation_humidity_not_given,
            .quantity = "above_dew_point",
            .source = "IEEE 43 (winding above the dew point; from memory, unverified); Magnus formula, WMO-No. 8"};
  if (!of.found.dew_point) return f;
  const double margin = units::in_kelvins(of.found.dew_point->margin.value);
  const double u = units::in_kelvins(of.found.dew_point->margin.standard_uncertainty);
  set_value(f, margin, u, "K");
  f.limit_low = 0.0;
  f.numbers = {{"dew_point", units::in_celsius(of.found.dew_point->dew_point), u}};
  f.says = statement::insulation_above_dew_point;
  f.outcome = rules.judge(margin, u, {0.0, {}});
  if (f.outcome == outcome::conforms) return f;
  f.says = statement::insulation_near_dew_point;
  f.outcome = outcome::undecided;
  f.bearing = bearing::decides;
  return f;
}

/// Leakage and absorption as fitted, for information: what is left after the absorption has died is the leakage.
inline std::optional<finding> split_finding(const tested_circuit& of) {
  if (!of.found.split || of.found.split->status != checks::absorption_status::fitted) return std::nullopt;
  const auto& split = *of.found.split;
  finding f{.check = check::insulation,
            .subject = of.entry.circuit,
            .bearing = bearing::informs,
            .says = statement::insulation_current_split,
            .quantity = "leakage_current",
            .source = "leakage plus K t^-n through the readings (IEEE 43 annex, symbols from memory)"};
  const auto u = [&](Eigen::Index i) { return std::sqrt(split.covariance(i, i)); };
  set_value(f, 1e6 * units::in_amperes(split.leakage), 1e6 * u(0), "uA");
  f.numbers = {{"absorption", 1e6 * units::in_amperes(split.absorption), 1e6 * u(1)},
               {"absorption_half", measurement::coverage_95 * 1e6 * u(1), 1e6 * u(1)},
               {"exponent", split.exponent, u(2)},
               {"exponent_half", measurement::coverage_95 * u(2), u(2)}};
  return f;
}

}  // namespace detail

REWOUND_INLINE std::vector<finding> insulation(const tested_circuit& of, const policy& rules) {
  std::vector<finding> out{detail::minimum_finding(of, rules), detail::test_voltage_finding(of, rules)};
  if (auto f = detail::appliance_finding(of, rules)) out.push_back(std::move(*f));
  if (auto f = detail::fall_finding(of, rules)) out.push_back(std::move(*f));
  if (auto f = detail::curve_finding(of, rules)) out.push_back(std::move(*f));
  for (auto& f : polarization(of, rules)) out.push_back(std::move(f));
  if (auto f = detail::split_finding(of)) out.push_back(std::move(*f));
  out.push_back(detail::dew_point_finding(of, rules));
  return out;
}

REWOUND_INLINE finding insulation_accuracy_assumed(double tester_percent, double reading_percent, bool tester,
                                                   bool thermometer, double thermometer_K) {
  finding f{.check = check::insulation,
            .bearing = bearing::informs,
            .says = statement::insulation_accuracy_assumed,
            .quantity = "accuracy",
            .source = "common practice, no source"};
  f.value = tester ? reading_percent : thermometer_K;
  f.unit = tester ? "%" : "K";
  f.texts = {{"tester", tester ? "assumed" : "stated"},
             {"thermometer", thermometer ? "assumed" : "stated"},
             {"tester_too", tester && thermometer ? "yes" : "no"}};
  f.numbers = {
      {"tester_percent", tester_percent}, {"reading_percent", reading_percent}, {"thermometer_K", thermometer_K}};
  return f;
}

}  // namespace rewound::verdict::rules
