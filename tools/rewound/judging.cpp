// SPDX-License-Identifier: MIT
#include "judging.hpp"

#include <CLI/CLI.hpp>

#include <rewound/job/policy_file.hpp>

namespace rewound::tool {

void add_judging(CLI::App& command, judging_options& asked) {
  command.add_option("record", asked.record, "The record, a TOML file")->required();
  command.add_option("--earlier", asked.earlier, "Record of an earlier visit of the same machine");
  command.add_option("--reference", asked.reference, "What good machines of the model draw, as learn writes it");
  command.add_option("--policy", asked.policy, "The shop's own policy, a TOML file");
}

judging load(const judging_options& asked) {
  judging out{job::load_record(asked.record), {}, asked.policy.empty() ? job::default_policy() : job::load_policy(asked.policy)};
  if (!asked.earlier.empty()) out.compare_with.earlier = job::load_record(asked.earlier);
  if (!asked.reference.empty()) out.compare_with.good = job::load_reference(asked.reference);
  return out;
}

}  // namespace rewound::tool
