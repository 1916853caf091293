// SPDX-License-Identifier: MIT
#include <rewound/job/judge.hpp>

#include <algorithm>
#include <utility>

#include <rewound/job/policy_file.hpp>

#include "electrical_evidence.hpp"
#include "judge_parts.hpp"
#include "running_basis.hpp"

namespace rewound::job {

namespace {

/// What the default policy would have needed and this one let go.
std::vector<verdict::check> not_asked(const std::vector<verdict::finding>& findings, const verdict::policy& policy) {
  std::vector<verdict::check> out;
  for (const auto check : default_policy().needed) {
    const bool shown = std::any_of(findings.begin(), findings.end(), [&](const auto& finding) {
      const bool conforms =
          finding.bearing == verdict::bearing::decides && finding.outcome == verdict::outcome::conforms;
      return finding.check == check && (conforms || finding.bearing == verdict::bearing::does_not_apply ||
                                        finding.bearing == verdict::bearing::noted);
    });
    if (!policy.needs(check) && !shown) out.push_back(check);
  }
  return out;
}

}  // namespace

result judge(const record::visit_record& now, const sources& compare_with, const verdict::policy& policy) {
  const auto [today, before, rewound_since] = visits_of(now, compare_with.earlier);
  result out;
  if (rewound_since)
    out.findings.push_back({.check = verdict::check::draw,
                            .bearing = verdict::bearing::informs,
                            .says = verdict::statement::earlier_other_winding,
                            .quantity = "level"});
  out.machine = now.machine;
  out.visit = now.visit;
  out.instruments = now.instruments;
  out.policy_name = policy.name;
  out.own_limits = policy.own_numbers();
  if (compare_with.earlier) out.earlier_visit = compare_with.earlier->visit.day;
  if (compare_with.good) out.reference_machines = compare_with.good->machines.size();
  std::optional<electrical_evidence> evidence;
  judge_running(today, before, compare_with.good, policy, evidence, out);
  judge_cold(today, before, policy, out);
  judge_no_load(today, policy, out);
  judge_unbalance(today, policy, out);
  judge_heat_run(today, policy, out);
  judge_coast_down(today, before, compare_with.good, policy, out);
  judge_causes(today, std::move(evidence), out);
  out.decision = verdict::decide(out.findings, policy);
  out.not_asked = not_asked(out.findings, policy);
  return out;
}

}  // namespace rewound::job
