// SPDX-License-Identifier: MIT
#include "judging.hpp"

#include <utility>

#include <CLI/CLI.hpp>

#include <rewound/job/policy_file.hpp>
#include <rewound/job/spread.hpp>

namespace rewound::tool {

void add_judging(CLI::App& command, judging_options& asked, const char* record) {
  command.add_option("record", asked.record, record)->required();
  command.add_option("--earlier", asked.earlier, "Record of an earlier visit of the same machine");
  command.add_option("--reference", asked.reference, "What good machines of the model draw, as learn writes it");
  command.add_option("--policy", asked.policy, "The shop's own policy, a TOML file");
  command.add_option("--spread", asked.spread, "How good machines of any model differ, as learn --spread writes it");
}

job::sources load_sources(const judging_options& asked) {
  job::sources out;
  if (!asked.earlier.empty()) out.earlier = record::load_record(asked.earlier);
  if (!asked.reference.empty()) out.good = job::load_reference(asked.reference);
  return out;
}

verdict::policy load_policy(const std::string& file, const std::string& spread) {
  auto out = file.empty() ? job::default_policy() : job::load_policy(file);
  return spread.empty() ? out : job::with_spread(std::move(out), job::load_spread(spread));
}

judging load(const judging_options& asked) {
  auto record = record::load_record(asked.record);
  auto compare_with = load_sources(asked);
  return {std::move(record), std::move(compare_with), load_policy(asked.policy, asked.spread)};
}

}  // namespace rewound::tool
