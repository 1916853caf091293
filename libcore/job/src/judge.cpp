// SPDX-License-Identifier: MIT
#include <rewound/job/judge.hpp>

#include <rewound/base/error.hpp>
#include <rewound/verdict/rules/bench_checks.hpp>

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

/// Sections that are read and kept, whose judgement is still to come.
void tell_recorded(const record& in, result& out) {
  using verdict::check;
  const auto tell = [&](check which, bool recorded) {
    out.findings.push_back(verdict::rules::recorded_only(which, recorded));
  };
  tell(check::heat_run, in.heat_run.has_value());
  tell(check::coast_down, in.coast_down.has_value());
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
  judge_no_load(today, policy, out);
  judge_unbalance(today, policy, out);
  tell_recorded(now, out);
  out.decision = verdict::decide(out.findings, policy);
  return out;
}

}  // namespace rewound::job
