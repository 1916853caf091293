// SPDX-License-Identifier: MIT
#include <algorithm>
#include <cmath>
#include <numbers>

#include <rewound/checks/cord.hpp>
#include <rewound/checks/earth.hpp>
#include <rewound/checks/leakage.hpp>
#include <rewound/verdict/rules/cord.hpp>
#include <rewound/verdict/rules/touch_safety.hpp>
#include <rewound/verdict/rules/withstand.hpp>

#include "analysis.hpp"

namespace rewound::job {

namespace {

/// The core of a cord by its cross-section, where the table of cores has it.
std::optional<double> core_ohm_per_m(const std::optional<record::cord_section>& cord) {
  if (!cord || !cord->conductor_mm2) return std::nullopt;
  for (const auto& row : verdict::tables::cord_core)
    if (std::abs(row.area_mm2 - *cord->conductor_mm2) < 1e-6) return row.ohm_per_km / 1000.0;
  return std::nullopt;
}

void fill_leakage(const visit_facts& now, const verdict::policy& policy, verdict::rules::touch_facts& facts) {
  facts.full_voltage_V = policy.practice.leakage_voltage_factor.value * now.in.machine.rated_voltage_V;
  checks::leakage_input input{{}, units::volts(facts.full_voltage_V), units::hertz(now.in.machine.rated_frequency_Hz)};
  facts.conditions_stated = false;
  for (const auto& entry : now.in.leakage) {
    const auto current = units::milliamperes(entry.current_mA);
    std::optional<units::voltage> volts;
    if (entry.voltage_V) volts = units::volts(*entry.voltage_V);
    input.readings.push_back({current, volts, {entry.reversed, entry.switched_on}});
    facts.conditions_stated = facts.conditions_stated || (entry.reversed && entry.switched_on);
    const double u = units::in_milliamperes(now.instruments.leakage_meter.standard_uncertainty(current));
    facts.leakage.push_back({entry.condition, entry.current_mA, u, entry.kind, entry.voltage_V});
  }
  const auto result = checks::leakage(input);
  facts.missing = result.missing;
  for (std::size_t i = 0; i < facts.leakage.size(); ++i) {
    facts.leakage[i].factor = result.factor[i];
    facts.leakage[i].capacitance_nF = result.capacitance_nF[i];
    const double volts = now.in.leakage[i].voltage_V.value_or(now.in.machine.rated_voltage_V);
    facts.leakage[i].least_mA = 2.0 * std::numbers::pi * now.in.machine.rated_frequency_Hz * volts * 1e-9 *
                                policy.practice.leakage_least_pF.value;  // pF to mA
  }
}

finding_list judge_leakage_and_earth(const visit_facts& now, const verdict::policy& policy) {
  verdict::rules::touch_facts facts;
  facts.appliance_class = now.in.machine.appliance_class;
  facts.frame_earthed = now.in.machine.frame_earthed;
  facts.portable = now.in.machine.portable;
  facts.rated_voltage_V = now.in.machine.rated_voltage_V;
  facts.rated_frequency_Hz = now.in.machine.rated_frequency_Hz;
  fill_leakage(now, policy, facts);
  if (now.in.earth) {
    facts.earth_ohm = now.in.earth->continuity_ohm;
    facts.cord_m = now.in.earth->cord_length_m;
  }
  if (!facts.cord_m && now.in.cord) facts.cord_m = now.in.cord->length_m;
  else if (now.in.cord) facts.other_cord_m = now.in.cord->length_m;
  if (facts.earth_ohm) {
    const auto ohm = units::ohms(*facts.earth_ohm);
    facts.earth_standard_uncertainty_ohm = units::in_ohms(now.instruments.ohmmeter.standard_uncertainty(ohm));
    std::optional<units::length> length;
    if (facts.cord_m) length = units::metres(*facts.cord_m);
    facts.earth = checks::earth({ohm, length, core_ohm_per_m(now.in.cord)});
  }
  auto out = verdict::rules::leakage(facts, policy);
  append(out, verdict::rules::earth(facts, policy));
  return out;
}

/// Cords go by what is marked (IEC 60335-1 Table 11); what a machine draws beside that is the draw's to judge.
/// Unmarked, the speed that draws most.
std::optional<measurement::uncertain<double>> cord_current_A(const visit_facts& now,
                                                             const std::vector<verdict::draw_row>& rows) {
  if (now.in.machine.rated_current_A) return measurement::uncertain<double>{*now.in.machine.rated_current_A, 0.0};
  std::optional<measurement::uncertain<double>> most;
  for (const auto& row : rows) {
    if (!row.at_rated) continue;
    const double amperes = units::in_amperes(row.at_rated->value);
    if (!most || amperes > most->value) most = {amperes, units::in_amperes(row.at_rated->standard_uncertainty)};
  }
  return most;
}

finding_list judge_cord(const visit_facts& now, const std::vector<verdict::draw_row>& rows,
                        const verdict::policy& policy) {
  if (!now.in.cord) return {};
  const auto& cord = *now.in.cord;
  const auto current = cord_current_A(now, rows);
  std::optional<units::length> length;
  if (cord.length_m) length = units::metres(*cord.length_m);
  const checks::cord_input input{cord.conductor_mm2, cord.conductor_awg, length,
                                 units::amperes(current ? current->value : 0.0),
                                 units::volts(now.in.machine.rated_voltage_V)};
  const bool earthed =
      now.in.machine.frame_earthed.value_or(now.in.machine.appliance_class == record::appliance_class::class_I);
  const verdict::rules::cord_facts facts{checks::cord(input),
                                         cord.conductor_awg,
                                         cord.length_m,
                                         current ? std::optional{current->value} : std::nullopt,
                                         current ? current->standard_uncertainty : 0.0,
                                         now.in.machine.phases == 3,
                                         cord.conductors,
                                         earthed};
  finding_list out{verdict::rules::cord(facts, policy)};
  if (auto finding = verdict::rules::cord_earth_conductor(facts)) out.push_back(std::move(*finding));
  return out;
}

}  // namespace

finding_list judge_touch(const analysis& seen, const std::vector<verdict::draw_row>& rows) {
  auto out = judge_leakage_and_earth(seen.today(), seen.policy);
  append(out, verdict::rules::withstand(seen.record,
                                        seen.before() ? seen.before()->in.withstand : decltype(seen.record.withstand){},
                                        seen.policy));
  append(out, judge_cord(seen.today(), rows, seen.policy));
  return out;
}

}  // namespace rewound::job
