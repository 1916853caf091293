// SPDX-License-Identifier: MIT
#include <cmath>
#include <optional>
#include <string>
#include <vector>

#include <rewound/checks/cooling.hpp>
#include <rewound/checks/heat_run.hpp>
#include <rewound/fit/curve_choice.hpp>
#include <rewound/machine/conductor.hpp>
#include <rewound/verdict/rules/bench_checks.hpp>
#include <rewound/verdict/rules/heat_run.hpp>

#include "judge_parts.hpp"

namespace rewound::job {

namespace {

/// Conductor of the winding: aluminium when every section of the record says so.
machine::conductor_material material_of(const record& in) {
  bool aluminium = !in.resistance.empty();
  for (const auto& entry : in.resistance) aluminium = aluminium && entry.material == machine::conductor_material::aluminium;
  return aluminium ? machine::conductor_material::aluminium : machine::conductor_material::copper;
}

/// From ohms to the rise of one record's winding, and back from the digits to kelvins.
struct rise_scale {
  const heat_run_section& run;
  machine::conductor_material material;
  double copper_K;
  double digit_ohm;
  double thermometer_K;

  double rise(double ohm) const {
    return units::in_kelvins(machine::rise_by_resistance(units::ohms(run.cold_ohm), units::celsius(run.cold_C), units::ohms(ohm),
                                                         units::celsius(run.ambient_C), material, copper_K));
  }
  double per_ohm() const {
    return (machine::inferred_zero_offset_K(material, copper_K) + run.cold_C) / run.cold_ohm;
  }
  /// What all readings share, at a hot resistance: the cold one's digits, and the two temperatures. The ohmmeter's gain
  /// cancels in hot over cold.
  double common(double ohm) const {
    const double ratio = ohm / run.cold_ohm;
    return std::hypot(ratio * per_ohm() * digit_ohm, ratio * thermometer_K, thermometer_K);
  }
  double at_ambient_ohm() const { return run.cold_ohm - rise(run.cold_ohm) / per_ohm(); }
};

checks::heat_run_input heating_of(const rise_scale& scale, const visit_facts& now, const verdict::policy& policy) {
  const auto& run = scale.run;
  checks::heat_run_input out{{},
                             units::seconds(60.0 * policy.practice("heat_time_constant_min").value),
                             policy.practice("heat_time_constant_factor").value,
                             policy.practice("heat_two_parts_certainty").value,
                             units::kelvins(policy.practice("heat_known_K").value),
                             units::kelvins(policy.practice("heat_steady_K").value)};
  for (std::size_t i = 0; i < run.time_s.size(); ++i) {
    const bool by_ohms = !run.resistance_ohm.empty();
    const double rise = by_ohms ? scale.rise(run.resistance_ohm[i]) : run.temperature_C[i] - run.ambient_C;
    const double u = by_ohms ? scale.per_ohm() * scale.digit_ohm
                             : units::in_kelvins(now.instruments.thermometer.digit_uncertainty());
    out.readings.push_back({units::seconds(run.time_s[i]), units::kelvins(rise), units::kelvins(u)});
  }
  return out;
}

void tell_cooling(const rise_scale& scale, verdict::rules::heat_run_facts& facts) {
  const auto& run = scale.run;
  if (run.cooling_time_s.empty()) return;
  checks::cooling_input in{{}, units::ohms(scale.at_ambient_ohm()), units::ohms(scale.digit_ohm)};
  for (std::size_t i = 0; i < run.cooling_time_s.size(); ++i)
    in.readings.push_back({units::seconds(run.cooling_time_s[i]), units::ohms(run.cooling_ohm[i])});
  facts.cooling = checks::cooling(in);
  if (facts.cooling->status == checks::cooling_status::not_cooling) return;
  const auto& at = facts.cooling->at_switch_off;
  const double ohm = units::in_ohms(at.value);
  facts.at_switch_off = {scale.rise(ohm), std::hypot(scale.per_ohm() * units::in_ohms(at.standard_uncertainty), scale.common(ohm))};
}

/// Watts of the speed on today's mains over those at the rated voltage, from its curve; absent where none were read.
std::optional<double> watts_ratio(const visit_facts& now, const std::string& speed, double mains_over_rated) {
  for (const auto& section : now.in.run_up) {
    if (section.speed != speed || section.power_W.empty()) continue;
    std::vector<fit::curve_reading> readings;
    for (std::size_t i = 0; i < section.power_W.size(); ++i) {
      const bool at_rest = !section.turning.empty() && !section.turning[i];
      if (at_rest || !(section.power_W[i] > 0.0) || !(section.voltage_V[i] > 0.0)) continue;
      const double u_V = now.instruments.voltmeter.digit_uncertainty().value() / section.voltage_V[i];
      const double u_W = now.instruments.wattmeter.digit_uncertainty().value() / section.power_W[i];
      readings.push_back({section.voltage_V[i] / now.in.machine.rated_voltage_V, section.power_W[i], u_V, u_W});
    }
    const auto fitted = fit::fit_current_curve(readings);
    if (fitted) return std::exp(fit::log_current(*fitted, mains_over_rated).value - fit::log_current(*fitted, 1.0).value);
  }
  return std::nullopt;
}

/// The fastest speed's losses on today's mains over those at the rated voltage: its watts where they were read, else the
/// current squared.
void tell_mains(const visit_facts& now, const result& out, verdict::rules::heat_run_facts& facts) {
  if (!now.in.visit.supply_voltage_V || out.draw.empty()) return;
  const auto& row = out.draw.front();
  if (!row.at_rated || !row.at_supply) return;
  const double ratio = (row.at_supply->value / row.at_rated->value).value();
  facts.supply_V = now.in.visit.supply_voltage_V;
  facts.rated_V = now.in.machine.rated_voltage_V;
  const auto watts = watts_ratio(now, row.speed, *facts.supply_V / facts.rated_V);
  facts.by_watts = watts.has_value();
  facts.loss_ratio = watts.value_or(ratio * ratio);
}

}  // namespace

void judge_heat_run(const visit_facts& now, const verdict::policy& policy, result& out) {
  if (!now.in.heat_run) {
    out.findings.push_back(verdict::rules::not_made(verdict::check::heat_run));
    return;
  }
  const auto& run = *now.in.heat_run;
  const rise_scale scale{run, material_of(now.in), policy.practice("copper_constant_K").value,
                         units::in_ohms(now.instruments.ohmmeter.digit_uncertainty()),
                         units::in_kelvins(now.instruments.thermometer.digit_uncertainty())};
  verdict::rules::heat_run_facts facts;
  facts.by_resistance = !run.resistance_ohm.empty();
  facts.heating = checks::heat_run(heating_of(scale, now, policy));
  facts.common_uncertainty = facts.by_resistance && !run.resistance_ohm.empty() ? scale.common(run.resistance_ohm.back())
                                                                               : scale.thermometer_K;
  facts.insulation_class = now.in.machine.insulation_class;
  facts.appliance = now.in.machine.appliance_class.has_value();
  facts.rated_power_W = now.in.machine.rated_power_W;
  facts.ambient_C = run.ambient_C;
  tell_cooling(scale, facts);
  tell_mains(now, out, facts);
  append(out.findings, verdict::rules::heat_run(facts, policy));
}

}  // namespace rewound::job
