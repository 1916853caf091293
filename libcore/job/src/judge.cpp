// SPDX-License-Identifier: MIT
#include <rewound/job/judge.hpp>

#include <algorithm>
#include <cmath>
#include <utility>

#include <rewound/job/policy_file.hpp>

#include "analysis.hpp"

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

namespace {

/// What is told of the record and of what it is compared with, before anything is judged.
result head_of(const analysis& seen) {
  result out;
  out.machine = seen.record.machine;
  out.visit = seen.record.visit;
  out.instruments = seen.record.instruments;
  out.policy_name = seen.policy.name;
  out.own_limits = seen.policy.own_numbers();
  if (seen.compare_with.earlier) out.earlier_visit = seen.compare_with.earlier->visit.day;
  if (seen.compare_with.good) out.reference_machines = seen.compare_with.good->machines.size();
  out.suspects = suspects_of(seen);
  if (const auto p = seen.joint_p_value ? seen.joint_p_value : seen.nameplate_p_value)
    out.abnormality = std::log10(1.0 / std::max(*p, 1e-300));
  for (const auto& test : seen.record.withstand)
    if (test.kind == record::test_kind::dc)
      out.longest_direct_test_s = std::max(out.longest_direct_test_s, test.duration_s);
  for (const auto& circuit : seen.record.insulation)
    out.longest_insulation_s = std::max(out.longest_insulation_s, circuit.time_s.back());
  return out;
}

finding_list other_winding(const analysis& seen) {
  if (!seen.visits.rewound_since) return {};
  return {{.check = verdict::check::draw,
           .bearing = verdict::bearing::informs,
           .says = verdict::statement::earlier_other_winding,
           .quantity = "level"}};
}

}  // namespace

result judge(const analysis& seen) {
  auto out = head_of(seen);
  out.findings = other_winding(seen);
  append(out.findings, judge_readings(seen));
  auto draw = judge_draw(seen);
  append(out.findings, std::move(draw.findings));
  auto steps = judge_steps(seen);
  append(out.findings, std::move(steps.findings));
  append(out.findings, judge_supply(seen, draw.rows));
  append(out.findings, judge_cold(seen, draw.rows));
  append(out.findings, judge_no_load(seen));
  append(out.findings, judge_unbalance(seen));
  append(out.findings, judge_heat_run(seen));
  append(out.findings, judge_coast_down(seen));
  out.draw = std::move(draw.rows);
  out.steps = std::move(steps.summary);
  auto causes = judge_causes(seen, out.findings);
  out.causes = std::move(causes.causes);
  out.next_steps = std::move(causes.next_steps);
  out.decision = verdict::decide(out.findings, seen.policy);
  out.not_asked = not_asked(out.findings, seen.policy);
  return out;
}

result judge(const record::visit_record& now, const sources& compare_with, const verdict::policy& policy) {
  return judge(*analyse(now, compare_with, policy));
}

}  // namespace rewound::job
