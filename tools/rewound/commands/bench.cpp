// SPDX-License-Identifier: MIT
#include <memory>

#include <CLI/CLI.hpp>

#include "dialogue/dialogue.hpp"
#include "command.hpp"
#include "judging.hpp"

namespace rewound::tool {

namespace {

struct bench_options {
  judging_options judged_by;
  double rehearse = 1.0;
  bool rehearsal = false;
};

int at_the_bench(const bench_options& options) {
  return dialogue::dialogue(options.judged_by.record,
                            {load_sources(options.judged_by), load_policy(options.judged_by.policy)},
                            {options.rehearse, options.rehearsal});
}

}  // namespace

void add_bench(CLI::App& app, action& chosen) {
  auto options = std::make_shared<bench_options>();
  auto* command =
      app.add_subcommand("bench", "Take the readings of one visit in a dialogue, each judged and on disk at once");
  add_judging(*command, options->judged_by, "The record, a TOML file: a new one, or one to go on with");
  command->add_option("--rehearse", options->rehearse, "Rehearsal: timed runs go this many times as fast; no test")
      ->check(CLI::Range(1.0, 1e6));
  command->footer(
      "Exit code: as of judge on the saved record; 65 where the record cannot be read or is open elsewhere.");
  command->callback([options, command, &chosen] {
    options->rehearsal = command->count("--rehearse") > 0;
    chosen = [options] { return at_the_bench(*options); };
  });
}

}  // namespace rewound::tool
