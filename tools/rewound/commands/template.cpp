// SPDX-License-Identifier: MIT
#include <memory>
#include <string>

#include <CLI/CLI.hpp>

#include <rewound/record/key_table.hpp>
#include <rewound/record/record.hpp>

#include "command.hpp"
#include "exit_code.hpp"
#include "output.hpp"

namespace rewound::tool {

void add_template(CLI::App& app, action& chosen) {
  auto* command = app.add_subcommand("template", "Print a commented blank record to fill in");
  auto keys = std::make_shared<bool>(false);
  command->add_flag("--keys", *keys, "Print all keys of a record as a table instead");
  command->callback([&chosen, keys] {
    chosen = [keys] {
      write_out("", *keys ? record::key_table() : std::string(record::blank_record()));
      return released;
    };
  });
}

}  // namespace rewound::tool
