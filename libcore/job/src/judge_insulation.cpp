// SPDX-License-Identifier: MIT
#include <algorithm>

#include <rewound/verdict/limit_tables.hpp>
#include <rewound/verdict/rules/insulation.hpp>

#include "insulation_analysis.hpp"
#include "judge_parts.hpp"

namespace rewound::job {

namespace {

bool was_assumed(const bench_instruments& instruments, std::string_view name) {
  return std::find(instruments.assumed.begin(), instruments.assumed.end(), name) != instruments.assumed.end();
}

double assumed_tester_percent() {
  using key = verdict::tables::assumed_accuracy_key;
  return verdict::tables::assumed_accuracy[static_cast<std::size_t>(key::insulation_tester)].reading_percent;
}

}  // namespace

void judge_insulation(const visit_facts& now, const verdict::policy& policy, result& out) {
  for (const auto& entry : now.in.insulation) {
    out.longest_insulation_s = std::max(out.longest_insulation_s, entry.time_s.back());
    append(out.findings,
           verdict::rules::insulation(analyse_insulation(now.in, now.instruments, entry, policy), policy));
  }
  if (now.in.insulation.empty()) {
    out.findings.push_back(verdict::rules::insulation_missing());
    return;
  }
  const bool tester = was_assumed(now.instruments, "insulation_tester");
  const bool thermometer = was_assumed(now.instruments, "thermometer");
  if (tester || thermometer)
    out.findings.push_back(verdict::rules::insulation_accuracy_assumed(
        assumed_tester_percent(), policy.practice.insulation_reading_percent.value, tester, thermometer,
        units::in_kelvins(now.instruments.thermometer.limit(units::kelvins(0.0)))));
}

}  // namespace rewound::job
