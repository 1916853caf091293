// SPDX-License-Identifier: MIT
#include <algorithm>
#include <cstdlib>
#include <iostream>
#include <string>
#include <string_view>

#include <CLI/CLI.hpp>
#include <fcntl.h>
#include <unistd.h>

#include <rewound/base/characters.hpp>
#include <rewound/base/error.hpp>
#include <rewound/record/read_file.hpp>

#include "command.hpp"
#include "exit_code.hpp"

namespace rewound::tool {

namespace {

/// A first word that is no command is called so, with those that there are.
void expect_known_command(const CLI::App& app, int argc, char** argv) {
  if (argc < 2 || argv[1][0] == '-') return;
  std::string known;
  for (const auto* command : app.get_subcommands([](const CLI::App*) { return true; })) {
    if (command->get_name() == argv[1]) return;
    known += (known.empty() ? "" : ", ") + command->get_name();
  }
  throw base::error(base::error_code::usage, {"", 0, "command"}, "\"" + std::string(argv[1]) + "\"", "one of " + known);
}

/// What a report of a fault needs to say: each library as this program was built with it.
std::string versions() { return "rewound " REWOUND_VERSION "\n" REWOUND_BUILT_WITH; }

int run(int argc, char** argv) {
  CLI::App app{"Judges a repaired or rewound small machine from the readings taken at the bench."};
  app.name("rewound");
  const bool verbose =
      std::any_of(argv, argv + argc, [](const char* word) { return std::string_view(word) == "--verbose"; });
  app.set_version_flag("--version", verbose ? versions() : "rewound " REWOUND_VERSION);
  bool told = verbose;
  app.add_flag("--verbose", told, "With --version: what this program was built with");
  app.require_subcommand(1);
  action chosen;
  add_judge(app, chosen);
  add_plot(app, chosen);
  add_bench(app, chosen);
  add_learn(app, chosen);
  add_trend(app, chosen);
  add_batch(app, chosen);
  add_simulate(app, chosen);
  add_whatif(app, chosen);
  add_parameters(app, chosen);
  add_template(app, chosen);
  add_help(app, chosen);
  app.failure_message([](const CLI::App*, const CLI::Error& trouble) {
    return "rewound: " + base::seen_text(trouble.what()) + "; rewound --help tells more\n";
  });
  expect_known_command(app, argc, argv);
  try {
    app.parse(argc, argv);
  } catch (const CLI::ParseError& trouble) {
    return app.exit(trouble) == 0 ? released : wrong_usage;
  }
  return chosen();
}

/// A standard descriptor that is closed would be given to the first file that is opened, and messages would go into it.
/// In its place stands one that refuses: nothing can be read from 0, nothing written to 1 and 2.
void open_standard_descriptors() {
  for (const int wanted : {STDIN_FILENO, STDOUT_FILENO, STDERR_FILENO}) {
    if (::fcntl(wanted, F_GETFD) != -1) continue;
    const int opened = ::open("/dev/null", wanted == STDIN_FILENO ? O_WRONLY : O_RDONLY);
    if (opened != wanted) std::_Exit(internal_error);  // without /dev/null nothing can be promised
  }
}

/// What main() does before anything is opened.
int start(int argc, char** argv) {
  open_standard_descriptors();
  record::remember_files_read();
  return run(argc, argv);
}

}  // namespace

}  // namespace rewound::tool

int main(int argc, char** argv) {
  namespace tool = rewound::tool;
  try {
    return tool::start(argc, argv);
  } catch (const rewound::base::errors& found) {
    for (const auto& trouble : found.all()) std::cerr << "rewound: " << trouble.what() << "\n";
    return tool::bad_input;
  } catch (const rewound::base::error& trouble) {
    std::cerr << "rewound: " << trouble.what() << "\n";
    if (trouble.code() == rewound::base::error_code::usage) return tool::wrong_usage;
    return trouble.code() == rewound::base::error_code::precondition ? tool::internal_error : tool::bad_input;
  } catch (const std::exception& trouble) {
    std::cerr << "rewound: internal error: " << trouble.what() << "\n";
    return tool::internal_error;
  }
}
