// SPDX-License-Identifier: MIT
#include <CLI/CLI.hpp>

#include <rewound/record/record.hpp>

#include "command.hpp"
#include "exit_code.hpp"
#include "output.hpp"

namespace rewound::tool {

void add_template(CLI::App& app, action& chosen) {
  auto* command = app.add_subcommand("template", "Print a commented blank record to fill in");
  command->callback([&chosen] {
    chosen = [] {
      write_out("", record::blank_record());
      return released;
    };
  });
}

}  // namespace rewound::tool
