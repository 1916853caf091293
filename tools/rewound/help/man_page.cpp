// SPDX-License-Identifier: MIT
#include "help/man_page.hpp"

#include <algorithm>
#include <vector>

#include <CLI/CLI.hpp>

#include "exit_code.hpp"

namespace rewound::tool {

namespace {

std::vector<const CLI::App*> commands_of(const CLI::App& app) {
  return app.get_subcommands([](const CLI::App*) { return true; });
}

std::vector<const CLI::Option*> options_of(const CLI::App& app) {
  return app.get_options([](const CLI::Option* option) { return !option->get_group().empty(); });
}

/// Text that roff leaves as it is: no escapes, no requests at the beginning of a line, hyphens that can be copied.
std::string in_roff(std::string_view text) {
  std::string out;
  for (const char c : text) {
    const bool begins_line = out.empty() || out.back() == '\n';
    if (begins_line && (c == '.' || c == '\'')) out += "\\&";
    if (c == '\\') out += "\\e";
    else if (c == '-') out += "\\-";
    else out += c;
  }
  return out;
}

/// The words that an option takes, where they are listed: {text,json,html}.
std::vector<std::string> words_of(const CLI::Option& option) {
  const auto type = option.get_type_name();
  const auto open = type.find('{'), close = type.find('}');
  std::vector<std::string> out;
  if (open == std::string::npos || close == std::string::npos) return out;
  for (auto at = open + 1; at < close;) {
    const auto end = std::min(type.find(',', at), close);
    out.push_back(type.substr(at, end - at));
    at = end + 1;
  }
  return out;
}

bool takes_a_value(const CLI::Option& option) { return option.get_items_expected_max() > 0; }

/// "--format text|json", "RECORD ...".
std::string usage_of(const CLI::Option& option) {
  std::string value;
  for (const auto& word : words_of(option)) value += (value.empty() ? "" : "|") + word;
  if (option.get_positional()) {
    std::string name = option.get_name(true);
    std::transform(name.begin(), name.end(), name.begin(), [](char c) { return static_cast<char>(std::toupper(c)); });
    return name + (option.get_items_expected_max() > 1 ? " ..." : "");
  }
  std::string out = "--" + option.get_lnames().front();
  if (takes_a_value(option)) out += " " + (value.empty() ? "VALUE" : value);
  return out;
}

std::string option_entry(const CLI::Option& option) {
  std::string out = ".TP\n.B " + in_roff(usage_of(option)) + "\n" + in_roff(option.get_description());
  if (!option.get_default_str().empty()) out += " (usually " + in_roff(option.get_default_str()) + ")";
  return out + "\n";
}

std::string command_section(const CLI::App& command) {
  std::string out = ".SS " + in_roff(command.get_name()) + "\n" + in_roff(command.get_description()) + ".\n";
  for (const auto* option : options_of(command))
    if (option->get_lnames().empty() || option->get_lnames().front() != "help") out += option_entry(*option);
  if (!command.get_footer().empty()) out += ".P\n" + in_roff(command.get_footer()) + "\n";
  return out;
}

std::string exit_codes() {
  const auto entry = [](int code, const char* what) {
    return ".TP\n.B " + std::to_string(code) + "\n" + in_roff(what) + "\n";
  };
  return entry(released, "release, or done") + entry(held, "hold") + entry(undecided, "undecided") +
         entry(wrong_usage, "wrong usage") + entry(bad_input, "unreadable or impossible input, or no output") +
         entry(internal_error, "an error of the program");
}

}  // namespace

std::string man_page(const CLI::App& app, const std::string& version) {
  std::string out = ".TH REWOUND 1 \"\" \"rewound " + in_roff(version) +
                    "\" \"User Commands\"\n.SH NAME\nrewound \\- "
                    "judge a repaired or rewound small machine from the readings taken at the bench\n.SH SYNOPSIS\n";
  for (const auto* command : commands_of(app)) {
    out += ".B rewound " + in_roff(command->get_name()) + "\n";
    for (const auto* option : options_of(*command))
      if (option->get_positional()) out += in_roff(usage_of(*option)) + " ";
    out += "[options]\n.br\n";
  }
  out += ".SH DESCRIPTION\n" + in_roff(app.get_description()) +
         "\nA record is one TOML file a visit; \\fBrewound template\\fR prints a blank one and \\fBrewound help\\fR "
         "KEY tells of one of its keys. Its judgement is advice: whoever works under voltage keeps to the rules for "
         "it.\n" +
         ".SH COMMANDS\n";
  for (const auto* command : commands_of(app)) out += command_section(*command);
  return out + ".SH EXIT STATUS\n" + exit_codes();
}

std::string bash_completion(const CLI::App& app) {
  std::string names, cases, words;
  for (const auto* command : commands_of(app)) {
    names += (names.empty() ? "" : " ") + command->get_name();
    std::string options;
    for (const auto* option : options_of(*command)) {
      if (option->get_positional() || option->get_lnames().empty()) continue;
      options += (options.empty() ? "--" : " --") + option->get_lnames().front();
      std::string taken;
      for (const auto& word : words_of(*option)) taken += (taken.empty() ? "" : " ") + word;
      if (!taken.empty())
        words += "    " + command->get_name() + ":--" + option->get_lnames().front() + ") COMPREPLY=($(compgen -W '" +
                 taken + "' -- \"$word\")); return ;;\n";
    }
    cases += "    " + command->get_name() + ") options='" + options + "' ;;\n";
  }
  return "# Completes rewound for bash; made by `rewound help --format bash`.\n_rewound() {\n"
         "  local word=${COMP_WORDS[COMP_CWORD]} before=${COMP_WORDS[COMP_CWORD-1]} command=${COMP_WORDS[1]} options=\n"
         "  if [ \"$COMP_CWORD\" -eq 1 ]; then\n    COMPREPLY=($(compgen -W '" +
         names + " --help --version' -- \"$word\"))\n    return\n  fi\n  case $command:$before in\n" + words +
         "  esac\n  case $command in\n" + cases +
         "  esac\n  case $word in\n    -*) COMPREPLY=($(compgen -W \"$options\" -- \"$word\")) ;;\n"
         "    *) COMPREPLY=($(compgen -f -- \"$word\")) ;;\n  esac\n}\n"
         "complete -o filenames -F _rewound rewound\n";
}

}  // namespace rewound::tool
