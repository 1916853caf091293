// SPDX-License-Identifier: MIT
#include <memory>
#include <string>

#include <CLI/CLI.hpp>

#include <rewound/record/key_table.hpp>
#include <rewound/record/record.hpp>
#include <rewound/record/words.hpp>

#include "command.hpp"
#include "exit_code.hpp"
#include "output.hpp"

namespace rewound::tool {

void add_template(CLI::App& app, action& chosen) {
  auto* command = app.add_subcommand("template", "Print a commented blank record to fill in");
  auto keys = std::make_shared<bool>(false);
  command->add_flag("--keys", *keys, "Print all keys of a record as a table instead");
  auto kind = std::make_shared<std::string>();
  command->add_option("--for", *kind, "A shorter one, for a fan, blower or brushed machine")
      ->check(CLI::IsMember(record::words::blank_kinds));
  command->callback([&chosen, keys, kind] {
    chosen = [keys, kind] {
      write_out("", *keys           ? record::key_table()
                    : kind->empty() ? std::string(record::blank_record())
                                    : record::blank_record_for(*kind));
      return released;
    };
  });
}

}  // namespace rewound::tool
