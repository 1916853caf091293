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
#include <rewound/record/insulation_class.hpp>
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

inline rise_limit rise_limit_of(const heat_run_facts& facts, const policy& rules) {
  const int wanted = facts.insulation_class ? static_cast<int>(*facts.insulation_class) : 105;
  const auto row = rules.row(tables::heat_rise, std::to_string(wanted));
  const bool small = !facts.rated_power_W || *facts.rated_power_W < rules.practice.heat_boundary_W.value;
  const double kelvins = facts.appliance ? row.appliance_K
                         : small         ? row.machine_below_600_W_K
                                         : row.machine_from_600_W_K;
  return {kelvins, row.thermometer_less_K, facts.appliance ? 25.0 : 40.0, std::string(row.source),
          facts.insulation_class.has_value()};
}

/// The rise that is judged: projected, or that of the switch-off and what the projection adds to it.
struct judged_rise {
  checks::heat_mixture distribution;
  double further = 0.0;  ///< standard uncertainty beside it
  bool from_cooling = false;
};

inline std::optional<judged_rise> judged_rise_of(const heat_run_facts& facts) {
  const bool projected = facts.heating.status == checks::heat_run_status::projected;
  if (facts.at_switch_off) {
    judged_rise out{{{{0.0, 0.0, 1.0}}}, facts.at_switch_off->standard_uncertainty, true};
    if (projected) out.distribution = facts.heating.remainder;
    for (auto& part : out.distribution.parts) part.value += facts.at_switch_off->value;
    return out;
  }
  if (!projected) return std::nullopt;
  return judged_rise{facts.heating.final_rise, facts.common_uncertainty, false};
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
inline bool away_from_rating(const heat_run_facts& facts, const policy& rules, outcome found) {
  if (!facts.run_V) return false;
  const double near = rules.practice.near_rating_percent.value / 100.0 * facts.rated_V;
  return (found == outcome::conforms && *facts.run_V < facts.rated_V - near) ||
         (found == outcome::fails && *facts.run_V > facts.rated_V + near);
}

/// Minutes still to run until the slow body has shown itself; 0 when it has.
inline double minutes_short(const heat_run_facts& facts, const policy& rules) {
  if (facts.heating.status != checks::heat_run_status::projected) return 0.0;
  const double asked = rules.practice.heat_run_length.value * units::in_seconds(facts.heating.slow_time_constant);
  return std::ceil(std::max(0.0, asked - units::in_seconds(facts.heating.length)) / 60.0);
}

inline bool few_readings(const heat_run_facts& facts, const policy& rules) {
  return static_cast<double>(facts.heating.readings) < rules.practice.heat_run_readings.value;
}

/// Why a rise that looks allowed is not taken for it yet; empty when it may be.
inline std::string not_settled(const heat_run_facts& facts, const policy& rules) {
  if (facts.heating.status != checks::heat_run_status::projected) return "readings";
  if (minutes_short(facts, rules) > 0.0) return "length";
  return few_readings(facts, rules) ? "readings" : "";
}

/// A thermometer on the outside reads less than the mean of the winding: the limit is lowered by the usual difference.
inline finding final_rise(const heat_run_facts& facts, const judged_rise& rise, const policy& rules) {
  const auto limit = rise_limit_of(facts, rules);
  const bool by_thermometer = !facts.by_resistance && !rise.from_cooling;
  const double allowed = limit.kelvins - (by_thermometer ? limit.thermometer_less_K : 0.0);
  auto f = heat_finding(statement::heat_run_final_rise, bearing::decides);
  set_rise(f, rise);
  f.limit_high = allowed;
  f.source = limit.source;
  f.outcome = by_probability(rise.distribution.probability_below(allowed, rise.further),
                             rules.practice.conforming_probability.value, rules.practice.failing_probability.value);
  if (!limit.class_known && f.outcome == outcome::fails) f.outcome = outcome::undecided;
  const bool elsewhere = away_from_rating(facts, rules, f.outcome);
  if (elsewhere) f.outcome = outcome::undecided;
  const auto early = f.outcome == outcome::conforms ? not_settled(facts, rules) : "";
  if (!early.empty()) f.outcome = outcome::undecided;
  const bool run_on = facts.heating.known_after && facts.heating.known_after->value() > 0.0;
  f.numbers = {{"base", limit.base_C},
               {"more", std::max(minutes_of(facts.heating.known_after), minutes_short(facts, rules))},
               {"least_readings", rules.practice.heat_run_readings.value},
               {"slow", units::in_seconds(facts.heating.slow_time_constant) / 60.0},
               {"class_C", facts.insulation_class ? static_cast<double>(*facts.insulation_class) : 105.0}};
  f.texts = {{"rise_from", rise.from_cooling ? "switch_off"
                           : by_thermometer  ? "thermometer"
                                             : "resistance"},
             {"thermal_class", limit.class_known ? "stated" : "unstated"},
             {"heat_settle", !limit.class_known ? "class"
                             : elsewhere        ? "voltage"
                             : !early.empty()   ? early
                             : run_on           ? "run"
                                                : "meters"}};
  if (elsewhere) f.numbers.insert(f.numbers.end(), {{"run_V", *facts.run_V}, {"rated_V", facts.rated_V}});
  return f;
}

inline finding hottest(const heat_run_facts& facts, const judged_rise& rise) {
  auto f = heat_finding(statement::heat_run_hottest);
  f.quantity = "winding_temperature_at_40_C";
  set_rise(f, rise, 40.0);
  f.unit = "degC";
  f.source = "coolant of 40 degC, IEC 60034-1 (from memory, unverified)";
  f.numbers = {{"ambient", facts.ambient_C}};
  f.texts = {{"ambient_range", facts.ambient_C < 10.0 || facts.ambient_C > 40.0 ? "outside" : "inside"}};
  return f;
}

inline finding on_mains(const heat_run_facts& facts, const judged_rise& rise) {
  auto f = heat_finding(statement::heat_run_on_mains);
  f.quantity = "final_rise_on_mains";
  set_rise(f, rise);
  for (auto* each : {&f.value, &f.low, &f.high}) **each *= facts.loss_ratio;
  f.source = "losses in proportion to the fitted draw (project's choice)";
  f.numbers = {{"supply_V", *facts.supply_V}, {"run_V", facts.run_V.value_or(facts.rated_V)}};
  f.texts = {{"losses_by", facts.by_watts ? "watts" : "current"}, {"run_voltage", facts.run_V ? "stated" : "assumed"}};
  return f;
}

inline finding course(const heat_run_facts& facts, const policy& rules) {
  auto f = heat_finding(statement::heat_run_course);
  const auto& heating = facts.heating;
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

inline finding cooled(const heat_run_facts& facts) {
  auto f = heat_finding(statement::heat_run_switch_off);
  f.quantity = "rise_at_switch_off";
  f.source = "IEC 60034-1 8.6.2, IEC 60335-1 11.3 (from memory, unverified)";
  if (facts.at_switch_off) set_value(f, facts.at_switch_off->value, facts.at_switch_off->standard_uncertainty, "K");
  else f.says = statement::heat_run_not_cooling;
  f.texts = {{"cooling_by", std::string(checks::name(facts.cooling->status))}};
  return f;
}

}  // namespace detail

REWOUND_INLINE std::vector<finding> heat_run(const heat_run_facts& facts, const policy& rules) {
  using checks::heat_run_status;
  std::vector<finding> out;
  const auto rise = detail::judged_rise_of(facts);
  if (rise) {
    out.push_back(detail::final_rise(facts, *rise, rules));
    out.push_back(detail::hottest(facts, *rise));
    if (facts.supply_V) out.push_back(detail::on_mains(facts, *rise));
  }
  if (facts.heating.status == heat_run_status::projected) out.push_back(detail::course(facts, rules));
  else {
    out.push_back(detail::heat_finding(detail::said_of(facts.heating.status), bearing::decides));
    out.back().outcome = outcome::undecided;
  }
  if (facts.cooling) out.push_back(detail::cooled(facts));
  return out;
}

}  // namespace rewound::verdict::rules
