// SPDX-License-Identifier: MIT
#include <cmath>

#include <rewound/machine/conductor.hpp>
#include <rewound/record/names.hpp>
#include <rewound/verdict/rules/no_load.hpp>

#include "analysis/analysis.hpp"
#include "analysis/machine_kind_of.hpp"

namespace rewound::job {

namespace {

checks::power_factor_input watts_input(const visit_facts& now, const record::run_up_row& row) {
  return {units::volts(row.voltage_V), units::amperes(row.current_A), units::watts(*row.power_W), now.in.machine.phases,
          now.instruments.voltmeter,   now.instruments.ammeter,       now.instruments.wattmeter};
}

/// The resistance that carries the current of a speed, by the current read, with its relative standard uncertainty.
struct loss_resistance {
  double ohm;
  double relative_u;
};

/// Between common and the speed's lead, where one was read so; else the fastest speed's section "main", or the only
/// one.
const record::resistance_section* section_of(const record::visit_record& in, const std::string& speed) {
  for (const auto& section : in.resistance)
    if (record::speed_of(section, in) == speed) return &section;
  if (in.machine.speeds.size() > 1 && in.machine.speeds.front() != speed) return nullptr;
  for (const auto& section : in.resistance)
    if (winding_of(section.section) == winding::main && !section.speed) return &section;
  return in.resistance.size() == 1 && !record::speed_of(in.resistance.front(), in) ? &in.resistance.front() : nullptr;
}

/// Of the winding at the temperature of the run-up; where none was noted, the resistance is taken as read and its
/// uncertainty allows for the warming.
loss_resistance warm(const visit_facts& now, const record::resistance_section& section,
                     const record::run_up_section& run, const verdict::policy& policy) {
  const double read = section.resistance_ohm - section.lead_resistance_ohm.value_or(0.0);
  const double meter_u = now.instruments.ohmmeter.standard_uncertainty(units::ohms(read)).value() / read;
  if (!run.winding_C) {
    const double limit = policy.practice.no_load_resistance_percent.value / 100.0;
    return {read, std::hypot(meter_u, limit / std::sqrt(3.0))};
  }
  const auto at = units::celsius(*run.winding_C);
  const double copper_K = policy.practice.copper_constant_K.value;
  const double u_K = winding_uncertainty(now, *run.winding_C).value();
  return {machine::at_temperature(units::ohms(read), units::celsius(section.winding_C), at, section.material, copper_K)
              .value(),
          std::hypot(meter_u, u_K * machine::relative_slope_per_K(at, section.material, copper_K))};
}

/// Three phases: the mean of three sections read between terminals, 3 I^2 R of a phase being 1.5 I^2 R of those.
std::optional<loss_resistance> resistance_for(const visit_facts& now, const record::run_up_section& run,
                                              const verdict::policy& policy) {
  const auto& in = now.in;
  if (in.machine.phases == 1) {
    const auto* section = section_of(in, run.speed);
    if (section == nullptr) return std::nullopt;
    auto out = warm(now, *section, run, policy);
    const double rotor = in.machine.rotor_resistance_ohm.value_or(0.0) / 4.0;
    return loss_resistance{out.ohm + rotor, out.relative_u};
  }
  if (in.resistance.size() != 3) return std::nullopt;
  loss_resistance out{0.0, 0.0};
  for (const auto& section : in.resistance) {
    if (section.speed && *section.speed != run.speed) return std::nullopt;
    const auto one = warm(now, section, run, policy);
    out.ohm += 0.5 * one.ohm;
    out.relative_u = std::max(out.relative_u, one.relative_u);
  }
  return out;
}

checks::no_load_input no_load_input_of(const visit_facts& now, const record::run_up_section& run,
                                       const loss_resistance& loss, const verdict::policy& policy) {
  const auto& meters = now.instruments;
  checks::no_load_input out{.readings = {},
                            .rated_voltage = units::volts(now.in.machine.rated_voltage_V),
                            .loss_resistance = units::ohms(loss.ohm),
                            .loss_uncertainty = std::hypot(loss.relative_u, 2.0 * meters.ammeter.gain_uncertainty()),
                            .power_gain_uncertainty = meters.wattmeter.gain_uncertainty(),
                            .straight_to = policy.practice.no_load_straight_percent.value / 100.0,
                            .near_rating = policy.practice.near_rating_percent.value / 100.0,
                            .exponent_low = policy.practice.core_exponent_low.value,
                            .exponent_high = policy.practice.core_exponent_high.value};
  for (const auto& row : run.rows)
    if (row.power_W && row.turns() && row.voltage_V > 0.0 && watts_possible(now, row))
      out.readings.push_back({units::volts(row.voltage_V), units::amperes(row.current_A), units::watts(*row.power_W),
                              meters.voltmeter.digit_uncertainty(), meters.ammeter.digit_uncertainty(),
                              meters.wattmeter.digit_uncertainty()});
  return out;
}

finding_list judge_losses(const visit_facts& now, const record::run_up_section& run, const verdict::policy& policy) {
  std::optional<checks::no_load_result> result;
  if (const auto loss = resistance_for(now, run, policy))
    result = checks::no_load(no_load_input_of(now, run, *loss, policy));
  return verdict::rules::no_load(run.speed, now.in.machine, result, policy);
}

/// The reading nearest to the rating.
finding_list judge_power_factor(const visit_facts& now, const record::run_up_section& run,
                                const verdict::policy& policy) {
  const double rated = now.in.machine.rated_voltage_V;
  const double near = policy.practice.near_rating_percent.value / 100.0;
  const record::run_up_row* nearest = nullptr;
  for (const auto& row : run.rows) {
    const double off = std::abs(row.voltage_V - rated);
    if (off > near * rated || !row.turns() || row.current_A <= 0.0 || row.power_W.value_or(0.0) <= 0.0 ||
        !watts_possible(now, row))
      continue;
    if (nearest == nullptr || off < std::abs(nearest->voltage_V - rated)) nearest = &row;
  }
  if (nearest == nullptr) return {};
  return {verdict::rules::power_factor(run.speed, *nearest, checks::power_factor(watts_input(now, *nearest)))};
}

}  // namespace

bool watts_possible(const visit_facts& visit, const record::run_up_row& row) {
  const auto& meters = visit.instruments;
  if (!row.power_W || row.over_range) return true;
  if (row.voltage_V > 0.0 && row.current_A > 0.0) return !checks::power_factor(watts_input(visit, row)).impossible;
  // Without volts or amperes there are no watts beyond what the meters' errors leave.
  const double most = (row.voltage_V + meters.voltmeter.limit(units::volts(row.voltage_V)).value()) *
                      (row.current_A + meters.ammeter.limit(units::amperes(row.current_A)).value());
  return *row.power_W - meters.wattmeter.limit(units::watts(*row.power_W)).value() <=
         (visit.in.machine.phases == 3 ? std::sqrt(3.0) : 1.0) * most;
}

std::vector<verdict::rules::impossible_watts> impossible_watts_of(const visit_facts& now) {
  std::vector<verdict::rules::impossible_watts> out;
  const double lines = now.in.machine.phases == 3 ? std::sqrt(3.0) : 1.0;
  for (const auto& run : now.in.run_up) {
    const auto read = run.column(&record::run_up_row::power_W).size();
    verdict::rules::impossible_watts found{run.speed, 0, 0, static_cast<int>(read), 0.0, 0.0};
    for (std::size_t i = 0; i < run.rows.size(); ++i) {
      const auto& row = run.rows[i];
      if (watts_possible(now, row)) continue;
      if (found.count++ > 0) continue;
      found.first = static_cast<int>(i);
      found.power_W = *row.power_W;
      found.apparent_VA = lines * row.voltage_V * row.current_A;
    }
    if (found.count > 0) out.push_back(found);
  }
  return out;
}

finding_list judge_no_load(const analysis& seen) {
  const auto& now = seen.today();
  finding_list out;
  for (const auto& as_read : now.in.run_up) {
    const auto run = seen.run_ups.used(as_read);
    if (!run.any_has(&record::run_up_row::power_W)) continue;
    append(out, judge_power_factor(now, run, seen.policy));
    if (now.in.visit.shaft == record::shaft_condition::bare) append(out, judge_losses(now, run, seen.policy));
  }
  return out;
}

}  // namespace rewound::job
