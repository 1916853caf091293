// SPDX-License-Identifier: MIT
#include <memory>
#include <string>
#include <vector>

#include <CLI/CLI.hpp>

#include <rewound/job/trend.hpp>
#include <rewound/report/trend.hpp>

#include "command.hpp"
#include "exit_code.hpp"
#include "judging.hpp"
#include "output.hpp"

namespace rewound::tool {

namespace {

struct trend_options {
  std::vector<std::string> files;
  std::string policy;
  output_options output;
};

int show_trend(const trend_options& options) {
  std::vector<record::visit_record> records;
  for (const auto& file : options.files) records.push_back(record::load_record(file));
  const auto policy = load_policy(options.policy);
  const auto result = job::trend(records, policy);
  if (options.output.format == "html") write_out(options.output.file, report::trend_html(result));
  else show(options.output, result, report::trend_text, report::trend_json);
  return released;
}

}  // namespace

void add_trend(CLI::App& app, action& chosen) {
  auto options = std::make_shared<trend_options>();
  auto* command = app.add_subcommand(
      "trend", "Insulation of one machine over its visits: slope, steps, and when it meets its minimum");
  command->add_option("records", options->files, "Records of one machine's visits, in any order")->required();
  command->add_option("--policy", options->policy, "The shop's own policy, a TOML file");
  add_output(*command, options->output, {"text", "json", "html"});
  command->footer("Exit code: 0 whatever the trend, 64 wrong usage, 65 unreadable or impossible input.");
  command->callback([options, &chosen] { chosen = [options] { return show_trend(*options); }; });
}

}  // namespace rewound::tool
