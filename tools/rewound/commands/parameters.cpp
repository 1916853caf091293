// SPDX-License-Identifier: MIT
#include <memory>
#include <string>

#include <CLI/CLI.hpp>

#include <rewound/job/parameters.hpp>
#include <rewound/report/parameters.hpp>

#include "command.hpp"
#include "exit_code.hpp"

namespace rewound::tool {

void add_parameters(CLI::App& app, action& chosen) {
  struct parameters_options {
    std::string file;
    std::string format = "text";
    std::string out;
  };
  auto options = std::make_shared<parameters_options>();
  auto* command = app.add_subcommand("parameters", "The machine's equivalent circuit by its run-up, and what the readings leave open");
  command->add_option("record", options->file, "Record of the machine")->required();
  command->add_option("--format", options->format, "text or json")->check(CLI::IsMember({"text", "json"}))->capture_default_str();
  command->add_option("--out", options->out, "Write to this file instead of standard output");
  command->footer("Exit code: 0 whatever the answer, 64 wrong usage, 65 unreadable or impossible input.");
  command->callback([options, &chosen] {
    chosen = [options] {
      const auto result = job::machine_parameters(job::load_record(options->file));
      write_out(options->out, options->format == "json" ? report::parameters_json(result) : report::parameters_text(result));
      return released;
    };
  });
}

}  // namespace rewound::tool
