// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <array>
#include <cmath>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include <rewound/base/compiled.hpp>
#include <rewound/checks/cooling.hpp>
#include <rewound/checks/heat_run.hpp>
#include <rewound/verdict/finding.hpp>
#include <rewound/verdict/policy.hpp>
#include <rewound/verdict/rules/heat_run.hpp>

namespace rewound::verdict::rules {

namespace detail {

struct rise_limit {
  double kelvins;
  double thermometer_less_K;
  double base_C;  ///< air that the limit is written for
  std::string source;
  bool class_known;
};

inline rise_limit rise_limit_of(const record::machine_section& of, const policy& rules) {
  const int wanted = of.insulation_class ? static_cast<int>(*of.insulation_class) : 105;
  const auto row = rules.row(tables::heat_rise, std::to_string(wanted));
  const bool small = !of.rated_power_W || *of.rated_power_W < rules.practice.heat_boundary_W.value;
  const double kelvins = of.appliance_class ? row.appliance_K
                         : small            ? row.machine_below_600_W_K
                                            : row.machine_from_600_W_K;
  return {kelvins, row.thermometer_less_K, of.appliance_class ? 25.0 : 40.0, std::string(row.source),
          of.insulation_class.has_value()};
}

/// The rise that is judged: projected, or that of the switch-off and what the projection adds to it.
struct judged_rise {
  checks::heat_mixture distribution;
  double further = 0.0;  ///< standard uncertainty beside it
  bool from_cooling = false;
};

inline std::optional<judged_rise> judged_rise_of(const heat_results& found) {
  const bool projected = found.heating.status == checks::heat_run_status::projected;
  if (found.at_switch_off) {
    judged_rise out{{{{0.0, 0.0, 1.0}}}, found.at_switch_off->standard_uncertainty, true};
    if (projected) out.distribution = found.heating.remainder;
    for (auto& part : out.distribution.parts) part.value += found.at_switch_off->value;
    return out;
  }
  if (!projected) return std::nullopt;
  return judged_rise{found.heating.final_rise, found.common_uncertainty, false};
}

inline finding heat_finding(statement says, bearing weight = bearing::informs) {
  return {.check = check::heat_run, .bearing = weight, .says = says, .quantity = "final_rise"};
}

inline void set_rise(finding& f, const judged_rise& rise, double add = 0.0) {
  f.value = rise.distribution.quantile(0.5, rise.further) + add;
  f.low = rise.distribution.quantile(0.025, rise.further) + add;
  f.high = rise.distribution.quantile(0.975, rise.further) + add;
  f.unit = "K";
}

inline std::string minutes_more(const std::optional<units::duration>& more) {
  if (!more) return "unknown";
  return more->value() > 0.0 ? "some" : "none";
}

inline double minutes_of(const std::optional<units::duration>& more) {
  return more ? std::ceil(units::in_seconds(*more) / 60.0) : 0.0;
}

/// The limit is meant at the rated voltage: a run well below it cannot conform, one well above it cannot fail.
inline bool away_from_rating(const record::visit_record& in, const policy& rules, outcome judged) {
  const auto& run_V = in.heat_run->voltage_V;
  const double rated_V = in.machine.rated_voltage_V;
  if (!run_V) return false;
  const double near = rules.practice.near_rating_percent.value / 100.0 * rated_V;
  return (judged == outcome::conforms && *run_V < rated_V - near) ||
         (judged == outcome::fails && *run_V > rated_V + near);
}

/// Minutes still to run until the slow body has shown itself; 0 when it has.
inline double minutes_short(const checks::heat_run_result& heating, const policy& rules) {
  if (heating.status != checks::heat_run_status::projected) return 0.0;
  const double asked = rules.practice.heat_run_length.value * units::in_seconds(heating.slow_time_constant);
  return std::ceil(std::max(0.0, asked - units::in_seconds(heating.length)) / 60.0);
}

inline bool few_readings(const checks::heat_run_result& heating, const policy& rules) {
  return static_cast<double>(heating.readings) < rules.practice.heat_run_readings.value;
}

/// Why a rise that looks allowed is not taken for it yet; empty when it may be.
inline std::string not_settled(const checks::heat_run_result& heating, const policy& rules) {
  if (heating.status != checks::heat_run_status::projected) return "readings";
  if (minutes_short(heating, rules) > 0.0) return "length";
  return few_readings(heating, rules) ? "readings" : "";
}

/// A thermometer on the outside reads less than the mean of the winding: the limit is lowered by the usual difference.
inline finding final_rise(const record::visit_record& in, const heat_results& found, const judged_rise& rise,
                          const policy& rules) {
  const auto& heating = found.heating;
  const auto limit = rise_limit_of(in.machine, rules);
  const bool by_thermometer = in.heat_run->resistance_ohm.empty() && !rise.from_cooling;
  const double allowed = limit.kelvins - (by_thermometer ? limit.thermometer_less_K : 0.0);
  auto f = heat_finding(statement::heat_run_final_rise, bearing::decides);
  set_rise(f, rise);
  f.limit_high = allowed;
  f.source = limit.source;
  f.outcome = by_probability(rise.distribution.probability_below(allowed, rise.further),
                             rules.practice.conforming_probability.value, rules.practice.failing_probability.value);
  if (!limit.class_known && f.outcome == outcome::fails) f.outcome = outcome::undecided;
  const bool elsewhere = away_from_rating(in, rules, f.outcome);
  if (elsewhere || found.entries_doubted) f.outcome = outcome::undecided;
  const auto early = f.outcome == outcome::conforms ? not_settled(heating, rules) : "";
  if (!early.empty()) f.outcome = outcome::undecided;
  const bool run_on = heating.known_after && heating.known_after->value() > 0.0;
  f.numbers = {{"base", limit.base_C},
               {"more", std::max(minutes_of(heating.known_after), minutes_short(heating, rules))},
               {"least_readings", rules.practice.heat_run_readings.value},
               {"slow", units::in_seconds(heating.slow_time_constant) / 60.0},
               {"class_C", in.machine.insulation_class ? static_cast<double>(*in.machine.insulation_class) : 105.0}};
  f.texts = {{"rise_from", rise.from_cooling ? "switch_off"
                           : by_thermometer  ? "thermometer"
                                             : "resistance"},
             {"thermal_class", limit.class_known ? "stated" : "unstated"},
             {"heat_settle", !limit.class_known      ? "class"
                             : found.entries_doubted ? "entries"
                             : elsewhere             ? "voltage"
                             : !early.empty()        ? early
                             : run_on                ? "run"
                                                     : "meters"}};
  if (elsewhere)
    f.numbers.insert(f.numbers.end(), {{"run_V", *in.heat_run->voltage_V}, {"rated_V", in.machine.rated_voltage_V}});
  return f;
}

inline finding hottest(double ambient_C, const judged_rise& rise) {
  auto f = heat_finding(statement::heat_run_hottest);
  f.quantity = "winding_temperature_at_40_C";
  set_rise(f, rise, 40.0);
  f.unit = "degC";
  f.source = "coolant of 40 degC, IEC 60034-1 (from memory, unverified)";
  f.numbers = {{"ambient", ambient_C}};
  f.texts = {{"ambient_range", ambient_C < 10.0 || ambient_C > 40.0 ? "outside" : "inside"}};
  return f;
}

inline finding on_mains(const record::visit_record& in, const losses_on_mains& losses, const judged_rise& rise) {
  const auto& run_V = in.heat_run->voltage_V;
  auto f = heat_finding(statement::heat_run_on_mains);
  f.quantity = "final_rise_on_mains";
  set_rise(f, rise);
  for (auto* each : {&f.value, &f.low, &f.high}) **each *= losses.ratio;
  f.source = "losses in proportion to the fitted draw (project's choice)";
  f.numbers = {{"supply_V", *in.visit.supply_voltage_V}, {"run_V", run_V.value_or(in.machine.rated_voltage_V)}};
  f.texts = {{"losses_by", losses.by_watts ? "watts" : "current"}, {"run_voltage", run_V ? "stated" : "assumed"}};
  return f;
}

inline finding course(const checks::heat_run_result& heating, const policy& rules) {
  auto f = heat_finding(statement::heat_run_course);
  f.quantity = "change_in_30_min";
  f.value = units::in_kelvins(heating.change_in_30_min);
  f.unit = "K";
  f.limit_high = rules.practice.heat_steady_K.value;
  f.source = rules.practice.heat_steady_K.source;
  f.numbers = {{"tau", units::in_seconds(heating.time_constants.front()) / 60.0},
               {"change", units::in_kelvins(heating.change_in_30_min), 0.05},
               {"tau_fast", units::in_seconds(heating.time_constants.back()) / 60.0},
               {"until_steady", minutes_of(heating.steady_after)},
               {"until_known", minutes_of(heating.known_after)},
               {"known_K", rules.practice.heat_known_K.value}};
  f.texts = {{"heat_parts", heating.time_constants.size() > 1 ? "two" : "one"},
             {"steady", minutes_more(heating.steady_after)},
             {"known", minutes_more(heating.known_after)}};
  return f;
}

inline statement said_of(checks::heat_run_status status) {
  switch (status) {
    case checks::heat_run_status::not_heating: return statement::heat_run_falling;
    case checks::heat_run_status::not_moving: return statement::heat_run_not_moving;
    default: return statement::heat_run_too_few;
  }
}

inline finding cooled(const heat_results& found) {
  auto f = heat_finding(statement::heat_run_switch_off);
  f.quantity = "rise_at_switch_off";
  f.source = "IEC 60034-1 8.6.2, IEC 60335-1 11.3 (from memory, unverified)";
  if (found.at_switch_off) set_value(f, found.at_switch_off->value, found.at_switch_off->standard_uncertainty, "K");
  else f.says = statement::heat_run_not_cooling;
  f.texts = {{"cooling_by", std::string(checks::name(found.cooling->status))}};
  return f;
}

}  // namespace detail

REWOUND_INLINE std::vector<finding> heat_run(const record::visit_record& in, const heat_results& found,
                                             const policy& rules) {
  using checks::heat_run_status;
  std::vector<finding> out;
  const auto rise = detail::judged_rise_of(found);
  if (rise) {
    out.push_back(detail::final_rise(in, found, *rise, rules));
    out.push_back(detail::hottest(in.heat_run->ambient_C, *rise));
    if (found.on_mains) out.push_back(detail::on_mains(in, *found.on_mains, *rise));
  }
  if (found.heating.status == heat_run_status::projected) out.push_back(detail::course(found.heating, rules));
  else {
    out.push_back(detail::heat_finding(detail::said_of(found.heating.status), bearing::decides));
    out.back().outcome = outcome::undecided;
  }
  if (found.cooling) out.push_back(detail::cooled(found));
  return out;
}

}  // namespace rewound::verdict::rules
