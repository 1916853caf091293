// SPDX-License-Identifier: MIT
#include <memory>

#include <CLI/CLI.hpp>

#include <rewound/job/policy_file.hpp>

#include "bench/dialogue.hpp"
#include "command.hpp"

namespace rewound::tool {

namespace {

struct bench_options {
  std::string record;
  std::string earlier;
  std::string reference;
  std::string policy;
  double rehearse = 1.0;
};

int at_the_bench(const bench_options& options) {
  bench::judged_by by;
  if (!options.earlier.empty()) by.compare_with.earlier = job::load_record(options.earlier);
  if (!options.reference.empty()) by.compare_with.good = job::load_reference(options.reference);
  by.policy = options.policy.empty() ? job::default_policy() : job::load_policy(options.policy);
  return bench::dialogue(options.record, by, {options.rehearse});
}

}  // namespace

void add_bench(CLI::App& app, action& chosen) {
  auto options = std::make_shared<bench_options>();
  auto* command = app.add_subcommand("bench", "Take the readings of one visit in a dialogue, each judged and on disk at once");
  command->add_option("record", options->record, "The record, a TOML file: a new one, or one to go on with")->required();
  command->add_option("--earlier", options->earlier, "Record of an earlier visit of the same machine");
  command->add_option("--reference", options->reference, "What good machines of the model draw, as learn writes it");
  command->add_option("--policy", options->policy, "The shop's own policy, a TOML file");
  command->add_option("--rehearse", options->rehearse, "Rehearsal: timed runs go this many times as fast; no test")->check(CLI::Range(1.0, 1e6));
  command->footer("Exit code: as of judge on the saved record; 65 where the record cannot be read or is open elsewhere.");
  command->callback([options, &chosen] { chosen = [options] { return at_the_bench(*options); }; });
}

}  // namespace rewound::tool
