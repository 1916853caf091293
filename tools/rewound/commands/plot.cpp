// SPDX-License-Identifier: MIT
#include <map>
#include <memory>

#include <CLI/CLI.hpp>

#include <rewound/job/analysis.hpp>
#include <rewound/report/picture.hpp>

#include "command.hpp"
#include "exit_code.hpp"
#include "judging.hpp"
#include "output.hpp"

namespace rewound::tool {

namespace {

struct plot_options {
  judging_options sources;
  std::string what = "draw";
  std::string subject;
  std::string file;
};

const std::map<std::string, report::picture_kind> kinds{{"draw", report::picture_kind::draw},
                                                        {"steps", report::picture_kind::steps},
                                                        {"insulation", report::picture_kind::insulation},
                                                        {"heat_run", report::picture_kind::heat_run},
                                                        {"coast_down", report::picture_kind::coast_down}};

int plot_record(const plot_options& options) {
  const auto [record, compare_with, policy] = load(options.sources);
  const auto seen = job::analyse(record, compare_with, policy);
  const auto result = job::judge(*seen);
  const auto drawn = job::pictures_of(*seen);
  write_out(options.file, report::picture_file(result, drawn, kinds.at(options.what), options.subject));
  return released;
}

}  // namespace

void add_plot(CLI::App& app, action& chosen) {
  auto options = std::make_shared<plot_options>();
  auto* command = app.add_subcommand("plot", "Draw one curve of a record as an SVG picture");
  add_judging(*command, options->sources);
  command->add_option("--of", options->what, "What to draw")
      ->check(CLI::IsMember({"draw", "steps", "insulation", "heat_run", "coast_down"}))
      ->capture_default_str();
  command->add_option("--subject", options->subject, "Which speed or circuit; the first where none is named");
  command->add_option("--out", options->file, "Write to this file instead of standard output");
  command->footer(
      "Exit code: 0 drawn, 64 wrong usage, 65 unreadable or impossible input, or nothing of that kind to draw.");
  command->callback([options, &chosen] { chosen = [options] { return plot_record(*options); }; });
}

}  // namespace rewound::tool
