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

/// The same circuit's value at the earlier visit, corrected as today's: by the system that decides today. A circuit
/// tested otherwise is another one.
std::optional<measurement::uncertain<units::resistance>> earlier_value(const verdict::rules::insulation_facts& facts,
                                                                       const std::optional<visit_facts>& before,
                                                                       const record::insulation_section& entry,
                                                                       const verdict::policy& policy) {
  if (!before) return std::nullopt;
  for (const auto& old : before->in.insulation) {
    if (old.circuit != entry.circuit || old.connection != entry.connection) continue;
    const auto then = analyse_insulation(before->in, before->instruments, old, policy);
    if (!then.result.at_one_minute || !then.result.one_minute_read) return std::nullopt;
    const bool setting = verdict::rules::deciding_system(facts) == record::insulation_system::thermosetting;
    return setting ? then.result.thermosetting_at_40 : then.result.thermoplastic_at_40;
  }
  return std::nullopt;
}

double assumed_tester_percent() {
  using key = verdict::tables::assumed_accuracy_key;
  return verdict::tables::assumed_accuracy[static_cast<std::size_t>(key::insulation_tester)].reading_percent;
}

}  // namespace

void judge_insulation(const visit_facts& now, const std::optional<visit_facts>& before, const verdict::policy& policy,
                      result& out) {
  bool to_frame = false;
  for (const auto& entry : now.in.insulation) {
    out.longest_insulation_s = std::max(out.longest_insulation_s, entry.time_s.back());
    auto facts = analyse_insulation(now.in, now.instruments, entry, policy);
    if (facts.result.at_one_minute) facts.earlier_at_40 = earlier_value(facts, before, entry, policy);
    to_frame = to_frame || facts.to_frame;
    append(out.findings, verdict::rules::insulation(facts, policy));
  }
  if (now.in.insulation.empty()) {
    out.findings.push_back(verdict::rules::insulation_missing());
    return;
  }
  if (!to_frame) out.findings.push_back(verdict::rules::insulation_without_frame());
  const bool tester = was_assumed(now.instruments, "insulation_tester");
  const bool thermometer = was_assumed(now.instruments, "thermometer");
  if (tester || thermometer)
    out.findings.push_back(verdict::rules::insulation_accuracy_assumed(
        assumed_tester_percent(), policy.practice.insulation_reading_percent.value, tester, thermometer,
        units::in_kelvins(now.instruments.thermometer.limit(units::kelvins(0.0)))));
}

}  // namespace rewound::job
