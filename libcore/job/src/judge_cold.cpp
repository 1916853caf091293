// SPDX-License-Identifier: MIT
#include <algorithm>

#include <rewound/checks/insulation.hpp>
#include <rewound/checks/starting.hpp>
#include <rewound/verdict/rules/bench_checks.hpp>
#include <rewound/verdict/rules/insulation.hpp>
#include <rewound/verdict/rules/starting.hpp>

#include "judge_parts.hpp"

namespace rewound::job {

namespace {

void judge_insulation(const visit_facts& now, const verdict::policy& policy, result& out) {
  const auto& machine = now.in.machine;
  for (const auto& entry : now.in.insulation) {
    checks::insulation_input input{{}, units::celsius(entry.winding_C), winding_uncertainty(now, entry.winding_C),
                                   now.instruments.insulation_tester};
    for (std::size_t i = 0; i < entry.time_s.size(); ++i)
      input.readings.push_back({units::seconds(entry.time_s[i]), units::megohms(entry.resistance_Mohm[i])});
    out.longest_insulation_s = std::max(out.longest_insulation_s, entry.time_s.back());
    append(out.findings,
           verdict::rules::insulation({entry.circuit, checks::insulation(input), entry.test_voltage_V,
                                       entry.time_s.back(), machine.rated_voltage_V, entry.winding_C,
                                       machine.rated_power_W, machine.wound_year, machine.winding_kind,
                                       machine.insulation_system, machine.insulation_class},
                                      policy));
  }
  if (now.in.insulation.empty()) out.findings.push_back(verdict::rules::insulation_missing());
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
  judge_touch(now, before, policy, out);
  append(out.findings, verdict::rules::bench_checks(now.in.checks, policy));
}

}  // namespace rewound::job
