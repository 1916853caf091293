// SPDX-License-Identifier: MIT
#include <algorithm>

#include <rewound/checks/friction_level.hpp>
#include <rewound/units/rotation.hpp>
#include <rewound/verdict/rules/bench_checks.hpp>
#include <rewound/verdict/rules/coast_down.hpp>

#include "coasting.hpp"
#include "judge_parts.hpp"
#include "reference_comparison.hpp"

namespace rewound::job {

namespace {

/// Coast-downs of the good machines, where they were made with this shaft condition.
std::vector<reference_coasting> good_coastings(const record::visit_record& now, const std::optional<reference>& good) {
  std::vector<reference_coasting> out;
  const auto beside = without_this_visit(good, now);
  if (!beside || beside->shaft != now.visit.shaft) return out;
  for (const auto& machine : beside->machines)
    if (machine.coast_down) out.push_back(*machine.coast_down);
  return out;
}

std::optional<checks::friction_level_result> beside_good(const checks::coast_down_result& now,
                                                         const std::vector<reference_coasting>& good,
                                                         const verdict::policy& policy) {
  if (good.empty() || now.status != checks::coast_down_status::fitted) return std::nullopt;
  checks::friction_level_input in{{},
                                  {now.deceleration, now.parts[0], now.parts[1], now.parts[2]},
                                  now.compare_at,
                                  policy.practice.friction_spread_percent.value / 100.0,
                                  policy.practice.friction_term_spread_percent.value / 100.0,
                                  policy.practice.reference_prior_weight.value,
                                  policy.practice.false_alarm_percent.value / 100.0};
  for (const auto& machine : good) in.good.push_back(machine.friction);
  return checks::friction_level(in);
}

}  // namespace

void judge_coast_down(const visit_facts& now, const std::optional<visit_facts>& before,
                      const std::optional<reference>& good, const verdict::policy& policy, result& out) {
  if (!now.in.coast_down) {
    out.findings.push_back(verdict::rules::not_made(verdict::check::coast_down));
    return;
  }
  // All that is compared is told at a speed that all passed through.
  double compare_at = fastest_rpm(*now.in.coast_down);
  const bool both = before && before->in.coast_down;
  if (both) compare_at = std::min(compare_at, fastest_rpm(*before->in.coast_down));
  const auto others = good_coastings(now.in, good);
  for (const auto& machine : others) compare_at = std::min(compare_at, machine.fastest_rpm);
  verdict::rules::coast_down_facts facts{checks::coast_down(coasting_of(now, compare_at, policy)),
                                         {},
                                         false,
                                         {},
                                         others.size(),
                                         now.in.coast_down->inertia_kgm2};
  facts.earlier_shaft_differs = both && before->in.visit.shaft != now.in.visit.shaft;
  if (both && !facts.earlier_shaft_differs)
    facts.earlier = checks::coast_down(coasting_of(*before, compare_at, policy));
  facts.good = beside_good(facts.now, others, policy);
  append(out.findings, verdict::rules::coast_down(facts, policy));
}

}  // namespace rewound::job
