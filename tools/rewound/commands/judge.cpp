// SPDX-License-Identifier: MIT
#include <memory>

#include <CLI/CLI.hpp>

#include <rewound/job/judge.hpp>
#include <rewound/job/policy_file.hpp>
#include <rewound/report/json.hpp>
#include <rewound/report/text.hpp>

#include "command.hpp"
#include "exit_code.hpp"
#include "output.hpp"

namespace rewound::tool {

namespace {

struct judge_options {
  std::string record;
  std::string earlier;
  std::string reference;
  std::string policy;
  output_options output;
};

int judge_record(const judge_options& options) {
  const auto record = job::load_record(options.record);
  job::sources compare_with;
  if (!options.earlier.empty()) compare_with.earlier = job::load_record(options.earlier);
  if (!options.reference.empty()) compare_with.good = job::load_reference(options.reference);
  const auto policy = options.policy.empty() ? job::default_policy() : job::load_policy(options.policy);
  const auto result = job::judge(record, compare_with, policy);
  show(options.output, result, report::text_report, report::json_report);
  return exit_code_of(result.decision.decision);
}

}  // namespace

void add_judge(CLI::App& app, action& chosen) {
  auto options = std::make_shared<judge_options>();
  auto* command = app.add_subcommand("judge", "Judge one visit's record: release, hold, or what is still missing");
  command->add_option("record", options->record, "The record, a TOML file")->required();
  command->add_option("--earlier", options->earlier, "Record of an earlier visit of the same machine");
  command->add_option("--reference", options->reference, "What good machines of the model draw, as learn writes it");
  command->add_option("--policy", options->policy, "The shop's own policy, a TOML file");
  add_output(*command, options->output);
  command->footer("Exit code: 0 release, 10 hold, 20 undecided, 64 wrong usage, 65 unreadable or impossible input.");
  command->callback([options, &chosen] { chosen = [options] { return judge_record(*options); }; });
}

}  // namespace rewound::tool
