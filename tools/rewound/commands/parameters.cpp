// SPDX-License-Identifier: MIT
#include <memory>
#include <string>

#include <CLI/CLI.hpp>

#include <rewound/job/parameters.hpp>
#include <rewound/report/parameters.hpp>

#include "command.hpp"
#include "exit_code.hpp"
#include "output.hpp"

namespace rewound::tool {

void add_parameters(CLI::App& app, action& chosen) {
  struct parameters_options {
    std::string file;
    output_options output;
  };
  auto options = std::make_shared<parameters_options>();
  auto* command = app.add_subcommand(
      "parameters", "The machine's equivalent circuit by its run-up, and what the readings leave open");
  command->add_option("record", options->file, "Record of the machine")->required();
  add_output(*command, options->output);
  command->footer("Exit code: 0 whatever the answer, 64 wrong usage, 65 unreadable or impossible input.");
  command->callback([options, &chosen] {
    chosen = [options] {
      show(options->output, job::machine_parameters(record::load_record(options->file)), report::parameters_text,
           report::parameters_json);
      return released;
    };
  });
}

}  // namespace rewound::tool
