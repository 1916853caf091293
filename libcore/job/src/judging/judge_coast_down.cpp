// SPDX-License-Identifier: MIT
#include <algorithm>

#include <rewound/checks/friction_level.hpp>
#include <rewound/units/rotation.hpp>
#include <rewound/verdict/rules/bench_checks.hpp>
#include <rewound/verdict/rules/coast_down.hpp>

#include "analysis/analysis.hpp"
#include "analysis/coasting.hpp"

namespace rewound::job {

namespace {

/// Coast-downs of the good machines, where they were made with this shaft condition.
std::vector<reference_coasting> good_coastings(const record::visit_record& now, const reference* good) {
  std::vector<reference_coasting> out;
  if (good == nullptr || good->shaft != now.visit.shaft) return out;
  for (const auto& machine : good->machines)
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

std::optional<verdict::rules::compared_coast_downs> analyse_coast_down(const visit_facts& now,
                                                                       const std::optional<visit_facts>& before,
                                                                       const reference* good,
                                                                       const verdict::policy& policy) {
  if (!now.in.coast_down) return std::nullopt;
  // All that is compared is told at a speed that all passed through.
  double compare_at = fastest_rpm(*now.in.coast_down);
  const bool both = before && before->in.coast_down;
  if (both) compare_at = std::min(compare_at, fastest_rpm(*before->in.coast_down));
  const auto others = good_coastings(now.in, good);
  for (const auto& machine : others) compare_at = std::min(compare_at, machine.fastest_rpm);
  verdict::rules::compared_coast_downs out{
      .now = checks::coast_down(coasting_of(now, compare_at, policy)),
      .earlier = {},
      .earlier_shaft_differs = both && before->in.visit.shaft != now.in.visit.shaft,
      .good = {},
      .good_machines = others.size()};
  if (both && !out.earlier_shaft_differs) out.earlier = checks::coast_down(coasting_of(*before, compare_at, policy));
  out.good = beside_good(out.now, others, policy);
  return out;
}

finding_list judge_coast_down(const analysis& seen) {
  if (!seen.coast_down) return {verdict::rules::not_made(verdict::check::coast_down)};
  return verdict::rules::coast_down(*seen.record.coast_down, *seen.coast_down, seen.policy);
}

}  // namespace rewound::job
