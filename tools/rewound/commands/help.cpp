// SPDX-License-Identifier: MIT
#include <memory>
#include <string>

#include <CLI/CLI.hpp>

#include <rewound/base/error.hpp>
#include <rewound/record/fields.hpp>
#include <rewound/record/key_table.hpp>

#include "help/man_page.hpp"
#include "command.hpp"
#include "exit_code.hpp"
#include "output.hpp"

namespace rewound::tool {

namespace {

struct help_options {
  std::string topic;
  output_options output;
};

/// What was meant by a topic that is none.
std::string topics_near(const CLI::App& app, const std::string& topic) {
  std::vector<std::string> known;
  for (const auto* command : app.get_subcommands([](const CLI::App*) { return true; }))
    known.push_back(command->get_name());
  for (const auto& section : record::listed_sections()) known.push_back(section.name);
  for (const auto& key : record::listed_keys()) known.push_back(key.name);
  const auto meant = record::nearest(topic, known);
  return "a command, or a key or table of the record" + (meant ? ": did you mean " + *meant + "?" : std::string());
}

std::string help_on(const CLI::App& app, const std::string& topic) {
  if (topic.empty()) return app.help();
  for (const auto* command : app.get_subcommands([](const CLI::App*) { return true; }))
    if (command->get_name() == topic) return command->help("rewound");
  auto keys = key_help(topic);
  if (keys.empty())
    throw base::error(base::error_code::usage, {"", 0, "topic"}, "\"" + topic + "\"", topics_near(app, topic));
  return keys;
}

}  // namespace

void add_help(CLI::App& app, action& chosen) {
  auto options = std::make_shared<help_options>();
  auto* command = app.add_subcommand("help", "Tell of a command, or of a key or table of the record");
  command->add_option("topic", options->topic, "judge, rated_current_A, run_up ...");
  add_output(*command, options->output, {"text", "man", "bash"});
  command->footer(
      "--format man is the manual page, --format bash completes what is typed. Exit code: 0, 64 wrong "
      "usage.");
  command->callback([options, &app, &chosen] {
    chosen = [options, &app] {
      const auto& format = options->output.format;
      write_out(options->output.file, format == "man"    ? man_page(app, REWOUND_VERSION)
                                      : format == "bash" ? bash_completion(app)
                                                         : help_on(app, options->topic));
      return released;
    };
  });
}

}  // namespace rewound::tool
