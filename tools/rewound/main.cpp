// SPDX-License-Identifier: MIT
#include <iostream>
#include <string>

#include <CLI/CLI.hpp>

#include <rewound/base/error.hpp>

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

int run(int argc, char** argv) {
  CLI::App app{"Judges a repaired or rewound small machine from the readings taken at the bench."};
  app.name("rewound");
  app.set_version_flag("--version", "rewound " REWOUND_VERSION);
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
  app.failure_message([](const CLI::App*, const CLI::Error& trouble) {
    return "rewound: " + std::string(trouble.what()) + "; rewound --help tells more\n";
  });
  expect_known_command(app, argc, argv);
  try {
    app.parse(argc, argv);
  } catch (const CLI::ParseError& trouble) {
    return app.exit(trouble) == 0 ? released : wrong_usage;
  }
  return chosen();
}

}  // namespace

}  // namespace rewound::tool

int main(int argc, char** argv) {
  namespace tool = rewound::tool;
  try {
    return tool::run(argc, argv);
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
