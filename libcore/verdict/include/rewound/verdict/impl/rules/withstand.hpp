// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <numbers>
#include <optional>
#include <string>
#include <vector>

#include <rewound/base/compiled.hpp>
#include <rewound/checks/withstand.hpp>
#include <rewound/record/names.hpp>
#include <rewound/verdict/finding.hpp>
#include <rewound/verdict/impl/words.hpp>
#include <rewound/verdict/policy.hpp>
#include <rewound/verdict/rules/withstand.hpp>

namespace rewound::verdict::rules {

namespace detail {

using voltage_key = tables::withstand_voltage_key;
using factor_key = tables::withstand_factor_key;

/// A motor gives less than it takes: its marked input, or the product of its marked volts and amps, bounds its output.
inline std::optional<double> largest_output_W(const record::machine_section& of) {
  if (of.rated_power_W || !of.rated_current_A) return of.rated_power_W;
  return of.rated_voltage_V * *of.rated_current_A * (of.phases == 3 ? std::numbers::sqrt3 : 1.0);
}

inline withstand_demand full_demand(voltage_key key, const record::machine_section& of, const policy& rules) {
  const auto row = rules.row(tables::withstand_voltage, key);
  return {std::max(row.constant_V + row.per_V * of.rated_voltage_V, row.minimum_V), std::string(row.source)};
}

inline withstand_demand share_of(const withstand_demand& whole, factor_key key, const policy& rules) {
  const auto row = rules.row(tables::withstand_factor, key);
  return {row.factor * whole.volts, std::string(row.source) + " of " + whole.source};
}

}  // namespace detail

REWOUND_INLINE withstand_demand iec_withstand(const record::machine_section& of, record::winding_state state,
                                              const policy& rules) {
  using enum record::winding_state;
  const bool low = of.rated_voltage_V < 100.0;
  if (state == overhauled)
    return detail::full_demand(
        low ? detail::voltage_key::iec_overhauled_below_100_V : detail::voltage_key::iec_overhauled, of, rules);
  const bool small = low && detail::largest_output_W(of).value_or(1000.0) < 1000.0;
  const auto whole =
      detail::full_demand(small ? detail::voltage_key::iec_new_below_100_V : detail::voltage_key::iec_new, of, rules);
  if (state == part_rewound) return detail::share_of(whole, detail::factor_key::iec_part_rewound, rules);
  if (state == repeat) return detail::share_of(whole, detail::factor_key::iec_repeat, rules);
  return whole;
}

REWOUND_INLINE withstand_demand nema_withstand(const record::machine_section& of, record::winding_state state,
                                               const policy& rules) {
  using enum record::winding_state;
  constexpr double half_horsepower_W = 373.0;
  const double small_up_to_V = of.winding_kind == record::winding_kind::armature ? 240.0 : 250.0;
  const bool small = of.rated_voltage_V <= small_up_to_V &&
                     detail::largest_output_W(of).value_or(2.0 * half_horsepower_W) <= half_horsepower_W;
  const auto whole = detail::full_demand(of.rated_voltage_V <= 35.0 ? detail::voltage_key::nema_new_up_to_35_V
                                         : small                    ? detail::voltage_key::nema_new_small
                                                                    : detail::voltage_key::nema_new,
                                         of, rules);
  if (state == part_rewound) return detail::share_of(whole, detail::factor_key::nema_part_rewound, rules);
  if (state == overhauled) return detail::share_of(whole, detail::factor_key::nema_overhauled, rules);
  if (state == repeat) return detail::share_of(whole, detail::factor_key::nema_repeat, rules);
  return whole;
}

REWOUND_INLINE withstand_demand deciding_withstand(const record::machine_section& of, record::winding_state state,
                                                   const policy& rules) {
  const auto iec = iec_withstand(of, state, rules);
  const auto nema = nema_withstand(of, state, rules);
  switch (rules.withstand_by) {
    case withstand_standard::iec: return iec;
    case withstand_standard::nema: return nema;
    case withstand_standard::stricter: return iec.volts >= nema.volts ? iec : nema;
    case withstand_standard::by_frequency: break;
  }
  return rules.market_of(of) == market::north_america ? nema : iec;
}

namespace detail {

/// Between two windings a test shows nothing of what a hand may touch.
inline bool between_windings(const std::string& circuit) {
  return record::names_any(circuit, {"between", "main to ", "start to ", "winding to winding", "field to arm"}) &&
         !record::names_the_frame(circuit);
}

/// What the record's own entries make of a test: a winding is no component, and a new one was not overhauled.
inline record::withstand_section as_it_was(record::withstand_section test, bool rewound) {
  if (record::names_any(test.circuit, {"winding", "main", "start", "stator", "armature", "field coil"}))
    test.component = false;
  if (rewound && test.state == record::winding_state::overhauled) test.state = record::winding_state::as_new;
  return test;
}

/// Current that flows under the test voltage, and a voltage far above what is asked: neither shows a sound winding.
inline void doubt_withstand(finding& f, const record::withstand_section& test, const policy& rules) {
  const auto breakdown = rules.practice.withstand_breakdown_mA;
  const auto usual = rules.practice.withstand_usual_mA;
  const auto most = rules.practice.withstand_most_factor;
  if (test.leakage_mA && *test.leakage_mA > usual.value) {
    const bool broke = *test.leakage_mA > breakdown.value;
    f.says = statement::withstand_current_high;
    f.outcome = broke ? outcome::fails : outcome::undecided;
    f.quantity = "withstand_current";
    f.limit_low.reset();
    f.limit_high = broke ? breakdown.value : usual.value;
    f.source = broke ? breakdown.source : usual.source;
    set_value(f, *test.leakage_mA, 0.0, "mA");
  } else if (f.outcome == outcome::conforms && test.voltage_V > most.value * *f.limit_low) {
    f.says = statement::withstand_voltage_impossible;
    f.outcome = outcome::undecided;
    f.numbers.push_back({"asked", *f.limit_low, 1.0});
    f.limit_high = most.value * *f.limit_low;
    f.source = most.source;
  }
}

/// Voltage, time and current of one test against what is asked.
inline void judge_test(finding& f, const record::withstand_section& test, const record::machine_section& of,
                       const policy& rules) {
  const auto direct = rules.row(tables::withstand_factor, factor_key::direct);
  const auto minute = rules.row(tables::withstand_factor, factor_key::one_minute);
  const auto second = rules.row(tables::withstand_factor, factor_key::one_second);
  const bool dc = test.kind == record::test_kind::dc;
  const double factor = dc ? direct.factor : 1.0;
  auto demand = test.component ? full_demand(dc ? voltage_key::component_dc : voltage_key::component_ac, of, rules)
                               : deciding_withstand(of, test.state, rules);
  if (!test.component) demand.volts *= factor;
  const bool brief = test.duration_s < minute.seconds && test.duration_s >= second.seconds;
  const double asked = brief ? second.factor * demand.volts : demand.volts;
  f.limit_low = asked;
  f.source = demand.source + (dc && !test.component ? "; " + std::string(direct.source) : "") +
             (brief ? "; " + std::string(second.source) : "");
  const auto stands_for = checks::withstand({units::volts(test.voltage_V), dc, direct.factor, std::nullopt});
  // Volts are compared to a millivolt: 0.75 times 1500 must not fail by a rounding error.
  const bool enough = test.voltage_V >= asked - 1e-3 && test.duration_s >= second.seconds;
  f.says = enough ? statement::withstand_met : statement::withstand_less;
  f.outcome = enough ? outcome::conforms : outcome::undecided;
  f.numbers = {{"seconds", test.duration_s},
               {"alternating", units::in_volts(stands_for.alternating), 1.0},
               {"full", demand.volts},
               {"full_seconds", minute.seconds},
               {"iec", factor * iec_withstand(of, test.state, rules).volts},
               {"nema", factor * nema_withstand(of, test.state, rules).volts}};
  f.texts = {{"kind", word_of(record::words::withstand_kind, test.kind)},
             {"state", test.component ? "component" : word_of(record::words::winding_state, test.state)},
             {"both", test.component ? "no" : "yes"},
             {"brief", brief ? "yes" : "no"},
             {"over", enough && test.voltage_V > second.factor * asked ? "yes" : "no"}};
}

inline double current_per_kV(const record::withstand_section& test) {
  return units::in_milliamperes(
      *checks::withstand({.applied = units::volts(test.voltage_V), .leakage = units::milliamperes(*test.leakage_mA)})
           .leakage_per_kV);
}

/// The current during the test: no standard limits it, a change since the last test tells.
inline void tell_current(const record::withstand_section& test, const std::vector<record::withstand_section>& earlier,
                         std::vector<finding>& out) {
  if (!test.leakage_mA) return;
  const auto then = std::find_if(earlier.begin(), earlier.end(), [&](const auto& old) {
    return old.circuit == test.circuit && old.kind == test.kind && old.leakage_mA;
  });
  finding f{.check = check::withstand,
            .subject = test.circuit,
            .bearing = bearing::informs,
            .says = statement::withstand_leakage,
            .quantity = "withstand_leakage",
            .source = "no standard limits it; common practice is to compare with the last test"};
  set_value(f, *test.leakage_mA, 0.0, "mA");
  f.numbers = {{"per_kV", current_per_kV(test)}};
  if (then != earlier.end()) f.numbers.push_back({"earlier", current_per_kV(*then)});
  f.texts = {{"since", then != earlier.end() ? "yes" : "no"}};
  out.push_back(std::move(f));
}

/// A winding that was rewound and not tested is released with a condition, unless the policy needs the test.
inline finding withstand_untested(const record::visit_record& now, bool rewound, const policy& rules) {
  using enum record::winding_state;
  const auto& of = now.machine;
  finding f{.check = check::withstand, .says = statement::withstand_not_tested, .quantity = "withstand_voltage"};
  f.source = deciding_withstand(of, as_new, rules).source;
  f.numbers = {{"iec", iec_withstand(of, as_new, rules).volts},
               {"nema", nema_withstand(of, as_new, rules).volts},
               {"iec_old", iec_withstand(of, overhauled, rules).volts},
               {"nema_old", nema_withstand(of, overhauled, rules).volts},
               {"decides", deciding_withstand(of, as_new, rules).volts}};
  if (rules.needs(check::withstand)) return f;
  if (rewound || !now.withstand.empty()) {
    f.bearing = bearing::informs;
    f.says = rewound ? statement::withstand_skipped : statement::withstand_component_only;
  }
  return f;
}

}  // namespace detail

REWOUND_INLINE bool rewound_now(const record::visit_record& in) {
  if (in.visit.state == record::visit_state::as_found) return false;
  for (const auto& work : in.visit.work)
    if (record::names_any(work, {"rewound", "rewind", "re-wound", "new winding", "new coil", "wound new", "wound a new",
                                 "new stator winding", "new main winding", "new start winding"}) &&
        !record::names_any(work, {"not rewound", "not re-wound", "no rewind", "without rewind"}))
      return true;
  return in.machine.wound_year && *in.machine.wound_year == in.visit.day.year &&
         in.visit.state == record::visit_state::after_repair;
}

REWOUND_INLINE std::vector<finding> withstand(const record::visit_record& now,
                                              const std::vector<record::withstand_section>& earlier,
                                              const policy& rules) {
  std::vector<finding> out;
  const bool rewound = rewound_now(now);
  bool winding = false;
  for (const auto& as_entered : now.withstand) {
    const auto test = detail::as_it_was(as_entered, rewound);
    winding = winding || (!test.component && !detail::between_windings(test.circuit));
    finding f{.check = check::withstand, .subject = test.circuit, .quantity = "withstand_voltage"};
    detail::judge_test(f, test, now.machine, rules);
    set_value(f, test.voltage_V, 0.0, "V");
    detail::doubt_withstand(f, test, rules);
    if (test.broke_down) {
      f.outcome = outcome::fails;
      f.says = statement::withstand_broke_down;
      f.source = "the record's own entry";
    }
    out.push_back(std::move(f));
    detail::tell_current(test, earlier, out);
  }
  if (!winding) out.push_back(detail::withstand_untested(now, rewound, rules));
  return out;
}

}  // namespace rewound::verdict::rules
