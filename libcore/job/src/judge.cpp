// SPDX-License-Identifier: MIT
#include <rewound/job/judge.hpp>

#include <algorithm>
#include <array>

#include <rewound/base/error.hpp>
#include <rewound/checks/unbalance.hpp>
#include <rewound/verdict/rules/unbalance.hpp>

#include "judge_parts.hpp"

namespace rewound::job {

namespace {

void expect_same_machine(const record& now, const record& earlier) {
  using base::error;
  using base::error_code;
  if (now.machine.id != earlier.machine.id)
    throw error(error_code::records_do_not_match, {"", 0, "machine.id"}, "\"" + earlier.machine.id + "\" in the earlier visit",
                "the same machine, here \"" + now.machine.id + "\"");
  if (now.machine.rated_voltage_V != earlier.machine.rated_voltage_V ||
      now.machine.rated_frequency_Hz != earlier.machine.rated_frequency_Hz ||
      now.machine.phases != earlier.machine.phases)
    throw error(error_code::records_do_not_match, {"", 0, "machine.rated_voltage_V"},
                "another rated voltage, frequency or number of phases in the earlier visit", "the same rating in both");
  if (earlier.visit.day > now.visit.day)
    throw error(error_code::records_do_not_match, {"", 0, "visit.date"}, earlier.visit.day.iso() + " for the earlier visit",
                "a day not after this visit's, " + now.visit.day.iso());
}

/// Three-phase: the mean of the lines says nothing of a line that is open; each speed's lines are compared at its
/// highest voltage.
void judge_unbalance(const visit_facts& now, const verdict::policy& policy, result& out) {
  for (const auto& run : now.in.run_up) {
    if (run.line_current_A.size() != 3) continue;
    const auto top = static_cast<std::size_t>(
        std::max_element(run.voltage_V.begin(), run.voltage_V.end()) - run.voltage_V.begin());
    std::array<units::current, 3> lines{};
    for (std::size_t i = 0; i < 3; ++i) lines[i] = units::amperes(run.line_current_A[i][top]);
    const double mean = run.current_A[top];
    if (mean <= 0.0) continue;
    const double u = 100.0 * now.instruments.ammeter.digit_uncertainty().value() / mean;
    out.findings.push_back(verdict::rules::unbalance(run.speed, checks::unbalance_percent(lines), u, policy));
  }
}

}  // namespace

result judge(const record& now, const sources& compare_with, const verdict::policy& policy) {
  const auto& earlier = compare_with.earlier;
  if (earlier) expect_same_machine(now, *earlier);
  const visit_facts today{now, instruments_of(now)};
  std::optional<visit_facts> before;
  if (earlier) before.emplace(visit_facts{*earlier, instruments_of(*earlier)});
  result out;
  out.machine = now.machine;
  out.visit = now.visit;
  out.instruments = now.instruments;
  out.policy_name = policy.name;
  out.own_limits = policy.own_numbers();
  if (earlier) out.earlier_visit = earlier->visit.day;
  if (compare_with.good) out.reference_machines = compare_with.good->machines.size();
  judge_running(today, before, compare_with.good, policy, out);
  judge_cold(today, before, policy, out);
  judge_unbalance(today, policy, out);
  judge_heat_run(today, policy, out);
  judge_coast_down(today, before, policy, out);
  out.decision = verdict::decide(out.findings, policy);
  return out;
}

}  // namespace rewound::job
