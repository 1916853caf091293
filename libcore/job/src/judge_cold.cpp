// SPDX-License-Identifier: MIT
#include <rewound/checks/starting.hpp>
#include <rewound/verdict/rules/bench_checks.hpp>
#include <rewound/verdict/rules/starting.hpp>

#include "judge_parts.hpp"

namespace rewound::job {

namespace {

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
