// SPDX-License-Identifier: MIT
#include <cmath>

#include <rewound/checks/cord.hpp>
#include <rewound/checks/earth.hpp>
#include <rewound/checks/leakage.hpp>
#include <rewound/verdict/rules/cord.hpp>
#include <rewound/verdict/rules/touch_safety.hpp>
#include <rewound/verdict/rules/withstand.hpp>

#include "analysis/analysis.hpp"

namespace rewound::job {

namespace {

/// The core of a cord by its cross-section, where the table of cores has it.
std::optional<double> core_ohm_per_m(const std::optional<record::cord_section>& cord) {
  if (!cord || !cord->conductor_mm2) return std::nullopt;
  for (const auto& row : verdict::tables::cord_core)
    if (std::abs(row.area_mm2 - *cord->conductor_mm2) < 1e-6) return row.ohm_per_km / 1000.0;
  return std::nullopt;
}

finding_list judge_leakage(const visit_facts& now, const verdict::policy& policy) {
  const auto& machine = now.in.machine;
  checks::leakage_input input{
      {}, verdict::rules::full_leakage_voltage(machine, policy), units::hertz(machine.rated_frequency_Hz)};
  for (const auto& entry : now.in.leakage) {
    std::optional<units::voltage> volts;
    if (entry.voltage_V) volts = units::volts(*entry.voltage_V);
    input.readings.push_back({units::milliamperes(entry.current_mA), volts, {entry.reversed, entry.switched_on}});
  }
  return verdict::rules::leakage(now.in, checks::leakage(input), now.instruments.leakage_meter, policy);
}

finding_list judge_earth(const visit_facts& now, const verdict::policy& policy) {
  if (!now.in.earth) return verdict::rules::earth(now.in, {}, 0.0, policy);
  checks::earth_input input{units::ohms(now.in.earth->continuity_ohm), {}, core_ohm_per_m(now.in.cord)};
  if (const auto& metres = now.in.earth->cord_length_m) input.cord = units::metres(*metres);
  else if (now.in.cord && now.in.cord->length_m) input.cord = units::metres(*now.in.cord->length_m);
  const auto u = now.instruments.ohmmeter.standard_uncertainty(input.continuity);
  return verdict::rules::earth(now.in, checks::earth(input), units::in_ohms(u), policy);
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
  return verdict::rules::cord(cord, now.in.machine, checks::cord(input), current, policy);
}

}  // namespace

finding_list judge_touch(const analysis& seen, const std::vector<verdict::draw_row>& rows) {
  auto out = judge_leakage(seen.today(), seen.policy);
  append(out, judge_earth(seen.today(), seen.policy));
  append(out, verdict::rules::withstand(seen.record,
                                        seen.before() ? seen.before()->in.withstand : decltype(seen.record.withstand){},
                                        seen.policy));
  append(out, judge_cord(seen.today(), rows, seen.policy));
  return out;
}

}  // namespace rewound::job
