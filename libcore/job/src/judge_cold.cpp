// SPDX-License-Identifier: MIT
#include <rewound/checks/resistance.hpp>
#include <rewound/checks/starting.hpp>
#include <rewound/verdict/rules/bench_checks.hpp>
#include <rewound/verdict/rules/resistance.hpp>
#include <rewound/verdict/rules/starting.hpp>
#include <rewound/verdict/rules/touch_safety.hpp>

#include "judge_parts.hpp"

namespace rewound::job {

namespace {

units::temperature_difference winding_uncertainty(const visit_facts& visit, double winding_C) {
  return visit.instruments.thermometer.standard_uncertainty(units::kelvins(winding_C));
}

checks::resistance_reading reading_of(const visit_facts& visit, const resistance_section& entry) {
  return {units::ohms(entry.resistance_ohm), units::celsius(entry.winding_C),
          winding_uncertainty(visit, entry.winding_C), visit.instruments.ohmmeter};
}

/// A winding cannot have more ohms than the whole machine's impedance when it runs; twice that leaves room for a start
/// winding (common practice, no source).
std::optional<double> largest_plausible_ohm(const visit_facts& now, const result& out) {
  const double volts = now.in.machine.rated_voltage_V;
  if (!out.draw.empty() && out.draw.front().at_rated)
    return 2.0 * volts / units::in_amperes(out.draw.front().at_rated->value);
  if (now.in.machine.rated_current_A) return 2.0 * volts / *now.in.machine.rated_current_A;
  return std::nullopt;
}

void judge_resistance(const visit_facts& now, const std::optional<visit_facts>& before, const verdict::policy& policy,
                      result& out) {
  std::vector<verdict::rules::resistance_facts> sections;
  for (const auto& entry : now.in.resistance) {
    checks::resistance_input input{.measured = reading_of(now, entry), .earlier = {}, .expected = {},
                                   .expected_at = units::celsius(entry.expected_C), .material = entry.material};
    if (entry.expected_ohm) input.expected = units::ohms(*entry.expected_ohm);
    else if (before)
      for (const auto& old : before->in.resistance)
        if (old.section == entry.section) input.earlier = reading_of(*before, old);
    sections.push_back({entry.section, checks::resistance(input), input.earlier.has_value()});
  }
  append(out.findings, verdict::rules::resistance(sections, largest_plausible_ohm(now, out), policy));
}

void judge_touch(const visit_facts& now, const verdict::policy& policy, result& out) {
  verdict::rules::touch_facts facts;
  facts.appliance_class = now.in.machine.appliance_class;
  facts.frame_earthed = now.in.machine.frame_earthed;
  facts.rated_voltage_V = now.in.machine.rated_voltage_V;
  for (const auto& entry : now.in.leakage) {
    const auto current = units::milliamperes(entry.current_mA);
    facts.leakage.push_back({entry.condition, entry.current_mA,
                             units::in_milliamperes(now.instruments.leakage_meter.standard_uncertainty(current))});
  }
  facts.earth_ohm = now.in.earth_continuity_ohm;
  if (facts.earth_ohm)
    facts.earth_standard_uncertainty_ohm =
        units::in_ohms(now.instruments.ohmmeter.standard_uncertainty(units::ohms(*facts.earth_ohm)));
  append(out.findings, verdict::rules::leakage(facts, policy));
  append(out.findings, verdict::rules::earth(facts, policy));
}

void judge_starting(const visit_facts& now, const verdict::policy& policy, result& out) {
  std::vector<verdict::rules::starts_facts> positions;
  for (const auto& entry : now.in.starts)
    positions.push_back({entry.position, entry.attempts, entry.successes,
                         checks::starting({entry.attempts, entry.successes})});
  std::vector<verdict::rules::stall_facts> stalls;
  const double near_rating =
      now.in.machine.rated_voltage_V * (1.0 - verdict::tables::supply_window.front().voltage_percent / 100.0);
  for (const auto& section : now.in.run_up)
    for (std::size_t i = 0; i < section.turning.size(); ++i)
      if (!section.turning[i] && section.voltage_V[i] >= near_rating)
        stalls.push_back({section.speed, section.voltage_V[i]});
  append(out.findings, verdict::rules::starting(positions, stalls, policy));
}

}  // namespace

void judge_cold(const visit_facts& now, const std::optional<visit_facts>& before, const verdict::policy& policy,
                result& out) {
  judge_insulation(now, policy, out);
  judge_resistance(now, before, policy, out);
  judge_starting(now, policy, out);
  judge_touch(now, policy, out);
  append(out.findings, verdict::rules::bench_checks(now.in.checks, policy));
}

}  // namespace rewound::job
