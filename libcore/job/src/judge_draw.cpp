// SPDX-License-Identifier: MIT
#include <algorithm>
#include <cmath>

#include <rewound/checks/design_match.hpp>
#include <rewound/checks/fault_likelihood.hpp>
#include <rewound/checks/supply.hpp>
#include <rewound/fit/curve_choice.hpp>
#include <rewound/verdict/rules/draw.hpp>
#include <rewound/verdict/rules/readings.hpp>
#include <rewound/verdict/rules/supply.hpp>

#include "electrical_evidence.hpp"
#include "judge_parts.hpp"
#include "judge_steps.hpp"
#include "machine_kind_of.hpp"
#include "reference_comparison.hpp"
#include "run_up_analysis.hpp"
#include "running_basis.hpp"

namespace rewound::job {

namespace {

using curve = fit::current_curve;

void fill_row(verdict::draw_row& row, const curve& now, const checks::draw_input& input,
              const std::optional<double>& supply_V) {
  row.at_rated = checks::current_at(now, input.rated_voltage, input);
  row.exponent = fit::exponent(now, 1.0);
  constexpr double barely = 0.02;  // a rating just beyond the last reading is no extrapolation worth a word
  row.extrapolated = now.x_low > 1.0 + barely || now.x_high < 1.0 - barely;
  constexpr double tenth = 0.1;
  row.far_from_rated = now.x_high < 1.0 - tenth || now.x_low > 1.0 + tenth;
  if (supply_V) row.at_supply = checks::current_at(now, units::volts(*supply_V), input);
}

/// A channel's curve at a voltage with everything that its reading is uncertain by; absent without readings of it.
std::optional<measurement::uncertain<double>> watts_at(const visit_facts& now,
                                                       const std::vector<checks::summary_input>& channels,
                                                       const std::string& speed, double x) {
  for (const auto& channel : channels) {
    if (channel.speed != speed || channel.what != fit::channel::power) continue;
    const auto fitted = fit::fit_current_curve(channel.readings);
    if (!fitted) return std::nullopt;
    const auto log = fit::log_current(*fitted, x);
    const double slope = fit::evaluate(fitted->family, fitted->parameters, x).exponent;
    const double u = std::hypot(log.standard_uncertainty, now.instruments.wattmeter.gain_uncertainty(),
                                slope * now.instruments.voltmeter.gain_uncertainty());
    const double watts = std::exp(log.value);
    return measurement::uncertain<double>{watts, u * watts};
  }
  return std::nullopt;
}

std::optional<verdict::finding> power_finding(const visit_facts& now,
                                              const std::vector<checks::summary_input>& channels,
                                              const verdict::policy& policy) {
  const auto& machine = now.in.machine;
  if (!machine.rated_power_W) return std::nullopt;
  const auto watts = watts_at(now, channels, machine.speeds.front(), 1.0);
  if (!watts) return std::nullopt;
  return verdict::rules::power({machine.speeds.front(), *machine.rated_power_W, *watts}, policy);
}

int readings_of(const std::vector<checks::summary_input>& channels, const std::string& speed) {
  for (const auto& channel : channels)
    if (channel.speed == speed && channel.what == fit::channel::current)
      return static_cast<int>(channel.readings.size());
  return 0;
}

/// ln amperes of the fastest speed by the ohms of the main winding, where those are known.
std::optional<measurement::uncertain<double>> current_by_winding(const record::visit_record& in) {
  const auto ohms = main_winding_ohm(in);
  if (!ohms || !has_designs(in)) return std::nullopt;
  const std::vector<double> one_current(in.machine.speeds.size(), 1.0);
  const auto expected =
      checks::current_by_winding(machine::fan_population(machine_kind_of(in), one_current), units::ohms(*ohms));
  return measurement::uncertain<double>{expected.log_current, expected.log_uncertainty};
}

/// Twenty healthy machines as odd are enough: p is then 0.03 or more, far from any alarm (project's choice).
double joint_p_value(const electrical_evidence& evidence) {
  constexpr std::size_t draws = 600, enough = 20;
  return checks::fault_likelihood({evidence.observed, evidence.model, draws, enough}).p_value;
}

void judge_readings(const visit_facts& now, const run_up_analysis& today, const verdict::policy& policy, result& out) {
  verdict::rules::readings_facts facts;
  for (const auto& suspect : today.suspects.readings)
    facts.suspects.push_back({today.as_read[suspect.run].speed, suspect});
  for (const auto& run : today.as_read)
    for (const auto& reading : run.readings) facts.stalled += reading.turning ? 0 : 1;
  facts.watts = impossible_watts_of(now);
  facts.contradictions = contradictions_of(now.in, policy);
  facts.assumed_instruments = now.instruments.assumed;
  out.suspects = facts.suspects;
  append(out.findings, verdict::rules::readings(facts));
}

void judge_supply(const visit_facts& now, const std::vector<checks::summary_input>& channels, result& out) {
  const auto& machine = now.in.machine;
  const auto& visit = now.in.visit;
  std::optional<checks::supply_result> compared;
  // Without a mains voltage the frequency alone can still be out of its window.
  if (visit.supply_voltage_V || visit.supply_frequency_Hz)
    compared = checks::supply({units::volts(machine.rated_voltage_V), units::hertz(machine.rated_frequency_Hz),
                               units::volts(visit.supply_voltage_V.value_or(machine.rated_voltage_V)),
                               units::hertz(visit.supply_frequency_Hz.value_or(machine.rated_frequency_Hz))});
  append(out.findings, verdict::rules::supply(compared, visit.supply_voltage_V.has_value()));
  // The run-up was read at the rated frequency: of another one it says nothing.
  if (!visit.supply_voltage_V || compared->frequency_percent != 0.0) return;
  append(out.findings, verdict::rules::supply_draw(out.draw, units::volts(*visit.supply_voltage_V)));
  for (const auto& speed : machine.speeds)
    if (const auto watts = watts_at(now, channels, speed, *visit.supply_voltage_V / machine.rated_voltage_V))
      append(out.findings, verdict::rules::supply_power(speed, *watts, units::volts(*visit.supply_voltage_V)));
}

}  // namespace

void judge_running(const visit_facts& now, const std::optional<visit_facts>& before,
                   const std::optional<reference>& good, const verdict::policy& policy,
                   std::optional<electrical_evidence>& evidence, result& out) {
  verdict::rules::draw_facts facts;
  const auto [beside, model, then, today] = running_basis_of(now, before, good, policy);
  facts.earlier_shaft_differs = before && !then;
  facts.earlier_same_day = before && before->in.visit.day == now.in.visit.day;
  facts.visit_in_reference = good && beside->machines.size() < good->machines.size();
  facts.reference_shaft_differs = good && !model;
  const auto channels = channels_of(now, today);
  facts.rated_current_A = now.in.machine.rated_current_A;
  for (const auto& speed : now.in.machine.speeds) {
    verdict::draw_row row{.speed = speed};
    const bool run = std::any_of(now.in.run_up.begin(), now.in.run_up.end(),
                                 [&](const auto& section) { return section.speed == speed; });
    if (!run) facts.not_run.push_back(speed);
    if (const curve* found = today.curve_of(speed)) {
      fill_row(row, *found, today.input, now.in.visit.supply_voltage_V);
      row.readings = readings_of(channels, speed);
    }
    facts.rows.push_back(std::move(row));
  }
  if (model) {
    compare_with_reference(now, *beside, *model, channels, verdict::expectation::reference, facts);
    evidence = evidence_beside(now, *beside, *model, compared_with::good_machines, channels, policy);
  } else if (then) {
    const auto itself = reference_of(before->in);
    const auto pooled = pool_reference(itself, between_visits(policy));
    compare_with_reference(now, itself, pooled, channels, verdict::expectation::earlier, facts);
    facts.earlier_without_common_speed = !facts.joint_p_value;
    evidence = evidence_beside(now, itself, pooled, compared_with::earlier_visit, channels, policy);
  }
  // Where no design is like the machine, the distance from good ones alone is the test.
  if (evidence && evidence->designs_agree()) facts.joint_p_value = joint_p_value(*evidence);
  if (!model && !then && !facts.rated_current_A) facts.log_current_by_winding = current_by_winding(now.in);
  judge_readings(now, today, policy, out);
  append(out.findings, verdict::rules::draw(facts, policy));
  if (auto power = power_finding(now, channels, policy)) out.findings.push_back(std::move(*power));
  out.draw = facts.rows;
  if (!facts.joint_p_value) {
    evidence = evidence_by_nameplate(now, channels, policy);
    if (evidence) facts.joint_p_value = joint_p_value(*evidence);
  }
  if (facts.joint_p_value) out.abnormality = std::log10(1.0 / std::max(*facts.joint_p_value, 1e-300));
  // An earlier visit may have had the same leads exchanged: only good machines say which speed is which.
  judge_steps(now, today, beside, model, facts.step_ratios, policy, out);
  judge_supply(now, channels, out);
}

}  // namespace rewound::job
