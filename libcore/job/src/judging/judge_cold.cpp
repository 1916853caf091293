// SPDX-License-Identifier: MIT
#include <algorithm>

#include <rewound/checks/capacitor.hpp>
#include <rewound/checks/section_balance.hpp>
#include <rewound/verdict/rules/bench_checks.hpp>
#include <rewound/verdict/rules/capacitor.hpp>
#include <rewound/verdict/rules/commutator.hpp>
#include <rewound/verdict/rules/mechanics.hpp>

#include "analysis/analysis.hpp"
#include "analysis/machine_kind_of.hpp"

namespace rewound::job {

namespace {

/// Whether a run-up was made and nothing but amperes was read of it.
bool amperes_alone(const record::visit_record& in) {
  return !in.run_up.empty() && std::all_of(in.run_up.begin(), in.run_up.end(), [](const auto& run) {
    return std::all_of(run.rows.begin(), run.rows.end(),
                       [](const auto& row) { return !row.power_W && !row.speed_rpm; });
  });
}

finding_list judge_capacitors(const visit_facts& now, const verdict::policy& policy) {
  const auto& meters = now.instruments;
  const double hertz = run_up_frequency_Hz(now.in);
  finding_list out;
  for (const auto& entry : now.in.capacitor) {
    checks::capacitor_input input{units::farads(1e-6 * entry.marked_uF), {}, {}, {}, units::hertz(hertz)};
    if (entry.measured_uF) {
      const auto read = units::farads(1e-6 * *entry.measured_uF);
      input.by_meter = {read, meters.capacitance_meter.standard_uncertainty(read)};
    }
    if (entry.voltage_V && entry.current_A) {
      const auto volts = units::volts(*entry.voltage_V);
      const auto amperes = units::amperes(*entry.current_A);
      input.across = {volts, meters.voltmeter.standard_uncertainty(volts)};
      input.through = {amperes, meters.ammeter.standard_uncertainty(amperes)};
    }
    append(out, verdict::rules::capacitor(entry, checks::capacitor(input), policy));
    if (!input.by_meter || !input.across) continue;
    // What it passes in circuit is judged beside what the meter says of it.
    input.by_meter.reset();
    out.push_back(verdict::rules::capacitor(entry, checks::capacitor(input), policy).front());
  }
  const auto circuit = now.in.machine.running_circuit;
  const bool by_amperes = amperes_alone(now.in);
  if (now.in.capacitor.empty() && circuit == record::running_circuit::permanent_capacitor)
    out.push_back(verdict::rules::capacitor_not_entered(by_amperes));
  else if (by_amperes && circuit != record::running_circuit::commutator) out.push_back(verdict::rules::rotor_unseen());
  return out;
}

finding_list judge_commutator(const visit_facts& now, const verdict::policy& policy) {
  if (!now.in.commutator) return {};
  std::optional<checks::section_balance_result> bars;
  if (now.in.commutator->bar_ohm.size() >= 2) {
    checks::section_balance_input input;
    const auto digit = ohmmeter_on_bars(now.in).digit_uncertainty();
    for (const double ohms : now.in.commutator->bar_ohm) input.sections.push_back({units::ohms(ohms), digit});
    // All of them nothing: a short from bar to bar, or the meter's leads; there is no mean to hold them against.
    const auto& read = now.in.commutator->bar_ohm;
    if (std::any_of(read.begin(), read.end(), [](double ohms) { return ohms > 0.0; }))
      bars = checks::section_balance(input);
  }
  return verdict::rules::commutator(*now.in.commutator, bars, policy);
}

}  // namespace

finding_list judge_cold(const analysis& seen, const std::vector<verdict::draw_row>& rows) {
  auto out = judge_insulation(seen);
  append(out, judge_resistance(seen, rows));
  append(out, judge_starting(seen));
  append(out, judge_touch(seen, rows));
  append(out, judge_capacitors(seen.today(), seen.policy));
  append(out, judge_commutator(seen.today(), seen.policy));
  append(out, verdict::rules::mechanics(seen.record, seen.policy));
  if (seen.slow) out.push_back(verdict::rules::turns_slowly(*seen.slow, seen.record.machine.running_circuit));
  append(out, verdict::rules::bench_checks(seen.record.checks, seen.policy));
  return out;
}

}  // namespace rewound::job
