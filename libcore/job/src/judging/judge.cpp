// SPDX-License-Identifier: MIT
#include <rewound/job/judge.hpp>

#include <algorithm>
#include <cmath>
#include <utility>

#include <rewound/job/policy_file.hpp>
#include <rewound/verdict/equipment.hpp>

#include "analysis/analysis.hpp"

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

/// What is told of the record and of what it is compared with, before anything is judged.
result head_of(const analysis& seen) {
  result out;
  out.machine = seen.record.machine;
  out.visit = seen.record.visit;
  out.visit.have = verdict::equipment_of(seen.record.visit, seen.policy);
  out.instruments = seen.record.instruments;
  out.policy_name = seen.policy.name;
  out.supply_source = seen.policy.supply_window(seen.record.machine).source;
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
    out.longest_insulation_s = std::max(out.longest_insulation_s, circuit.rows.back().time_s);
  return out;
}

/// Why the draw was not held against the earlier visit.
finding_list earlier_left_out(const analysis& seen) {
  using enum verdict::statement;
  const bool mended = seen.visits.mended_since && !seen.population;
  if (!seen.visits.rewound_since && !mended) return {};
  return {{.check = verdict::check::draw,
           .bearing = verdict::bearing::informs,
           .says = mended ? earlier_as_found : earlier_other_winding,
           .quantity = "level"}};
}

/// Whether all that decides on a check conforms, and something does.
bool holds(const finding_list& findings, verdict::check check) {
  bool any = false;
  for (const auto& f : findings) {
    if (f.check != check || f.bearing == verdict::bearing::informs) continue;
    if (f.bearing == verdict::bearing::decides && f.outcome != verdict::outcome::conforms) return false;
    any = true;
  }
  return any;
}

/// A heat run that came out inside its limit at the voltage that the machine will run on: today's mains, or the rated
/// voltage where a transformer has to set it.
bool proves_heat(const analysis& seen, const finding_list& heat) {
  if (!seen.record.heat_run || !holds(heat, verdict::check::heat_run)) return false;
  const double rated_V = seen.record.machine.rated_voltage_V;
  const double window = verdict::tables::supply_window.front().voltage_percent / 100.0;
  const double mains_V = seen.record.visit.supply_voltage_V.value_or(rated_V);
  const double runs_at_V = std::abs(mains_V - rated_V) <= window * rated_V * (1.0 + 1e-9) ? mains_V : rated_V;
  constexpr double meter = 0.03;  // how far below it the run's voltage may have been (common practice, no source)
  return seen.record.heat_run->voltage_V.value_or(rated_V) >= (1.0 - meter) * runs_at_V;
}

}  // namespace

result judge(const analysis& seen) {
  auto out = head_of(seen);
  out.findings = earlier_left_out(seen);
  append(out.findings, judge_readings(seen));
  auto rows = rows_of(seen);
  auto steps = judge_steps(seen);
  auto cold = judge_cold(seen, rows);
  auto heat = judge_heat_run(seen);
  const bool stands_heat = proves_heat(seen, heat);
  auto on_mains = judge_draw_on_mains(seen, rows, stands_heat);
  auto draw = judge_draw(seen, std::move(rows),
                         stands_heat && holds(steps.findings, verdict::check::steps) &&
                             holds(cold, verdict::check::resistance) && holds(cold, verdict::check::starting));
  append(out.findings, std::move(draw.findings));
  append(out.findings, std::move(on_mains));
  append(out.findings, std::move(steps.findings));
  append(out.findings, judge_supply(seen, draw.rows));
  append(out.findings, std::move(cold));
  append(out.findings, judge_no_load(seen));
  append(out.findings, judge_unbalance(seen));
  append(out.findings, std::move(heat));
  append(out.findings, judge_coast_down(seen));
  out.draw = std::move(draw.rows);
  out.steps = std::move(steps.summary);
  out.decision = verdict::decide(out.findings, seen.policy);
  auto causes = judge_causes(seen, out.findings, out.decision.may_energise);
  out.causes = std::move(causes.causes);
  out.next_steps = std::move(causes.next_steps);
  if (out.decision.decision == verdict::decision::release) {
    append(out.findings, verdict::rules::causes_against_release(out.causes, seen.policy));
    out.decision = verdict::decide(out.findings, seen.policy);
  }
  out.not_asked = not_asked(out.findings, seen.policy);
  return out;
}

result judge(const record::visit_record& now, const sources& compare_with, const verdict::policy& policy) {
  return judge(*analyse(now, compare_with, policy));
}

}  // namespace rewound::job
