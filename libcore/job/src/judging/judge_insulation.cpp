// SPDX-License-Identifier: MIT
#include <algorithm>
#include <optional>
#include <utility>

#include <rewound/record/names.hpp>
#include <rewound/verdict/limit_tables.hpp>
#include <rewound/verdict/rules/insulation.hpp>

#include "analysis/analysis.hpp"

namespace rewound::job {

namespace {

bool was_assumed(const bench_instruments& instruments, std::string_view name) {
  return std::find(instruments.assumed.begin(), instruments.assumed.end(), name) != instruments.assumed.end();
}

double assumed_tester_percent() {
  using key = verdict::tables::assumed_accuracy_key;
  return verdict::tables::assumed_accuracy[static_cast<std::size_t>(key::insulation_tester)].reading_percent;
}

/// Of a commutator machine's field and armature, the one that was tested to the frame and the one that no circuit
/// names; nothing where a circuit names neither, for then it is the whole winding.
std::optional<std::pair<const char*, const char*>> part_untested(const analysis& seen) {
  if (seen.record.machine.running_circuit != record::running_circuit::commutator) return std::nullopt;
  bool field = false, armature = false, whole = false;
  for (std::size_t i = 0; i < seen.insulation.size(); ++i) {
    if (!seen.insulation[i].to_frame) continue;
    const auto& circuit = seen.record.insulation[i].circuit;
    const bool of_field = record::names_any(circuit, {"field"});
    const bool of_armature = record::names_any(circuit, {"armature", "commutator", "rotor"});
    field = field || of_field;
    armature = armature || of_armature;
    whole = whole || (!of_field && !of_armature);
  }
  if (whole || field == armature) return std::nullopt;
  return field ? std::pair{"the field", "the armature"} : std::pair{"the armature", "the field"};
}

}  // namespace

finding_list judge_insulation(const analysis& seen) {
  if (seen.insulation.empty()) return {verdict::rules::insulation_missing()};
  finding_list out;
  for (std::size_t i = 0; i < seen.insulation.size(); ++i)
    append(out, verdict::rules::insulation({seen.record, seen.record.insulation[i], seen.insulation[i]}, seen.policy));
  if (std::none_of(seen.insulation.begin(), seen.insulation.end(),
                   [](const auto& circuit) { return circuit.to_frame; }))
    out.push_back(verdict::rules::insulation_without_frame());
  if (const auto part = part_untested(seen))
    out.push_back(verdict::rules::insulation_of_part(part->first, part->second));
  const auto& instruments = seen.today().instruments;
  const bool tester = was_assumed(instruments, "insulation_tester");
  const bool thermometer = was_assumed(instruments, "thermometer");
  if (tester || thermometer)
    out.push_back(verdict::rules::insulation_accuracy_assumed(
        assumed_tester_percent(), seen.policy.practice.insulation_reading_percent.value, tester, thermometer,
        units::in_kelvins(instruments.thermometer.limit(units::kelvins(0.0)))));
  return out;
}

}  // namespace rewound::job
