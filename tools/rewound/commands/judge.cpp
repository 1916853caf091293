// SPDX-License-Identifier: MIT
#include <memory>

#include <CLI/CLI.hpp>

#include <rewound/job/analysis.hpp>
#include <rewound/report/html.hpp>
#include <rewound/report/json.hpp>
#include <rewound/report/text.hpp>

#include "command.hpp"
#include "exit_code.hpp"
#include "judging.hpp"
#include "output.hpp"

namespace rewound::tool {

namespace {

struct judge_options {
  judging_options sources;
  output_options output;
};

int judge_record(const judge_options& options) {
  const auto [record, compare_with, policy] = load(options.sources);
  const auto seen = job::analyse(record, compare_with, policy);
  const auto result = job::judge(*seen);
  if (options.output.format == "html")
    write_out(options.output.file, report::html_report(result, job::pictures_of(*seen)));
  else show(options.output, result, report::text_report, report::json_report);
  return exit_code_of(result.decision.decision);
}

}  // namespace

void add_judge(CLI::App& app, action& chosen) {
  auto options = std::make_shared<judge_options>();
  auto* command = app.add_subcommand("judge", "Judge one visit's record: release, hold, or what is still missing");
  add_judging(*command, options->sources);
  add_output(*command, options->output, {"text", "json", "html"});
  command->footer("Exit code: 0 release, 10 hold, 20 undecided, 64 wrong usage, 65 unreadable or impossible input.");
  command->callback([options, &chosen] { chosen = [options] { return judge_record(*options); }; });
}

}  // namespace rewound::tool
