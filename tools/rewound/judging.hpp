// SPDX-License-Identifier: MIT
#pragma once

#include <string>

#include <rewound/job/judge.hpp>

namespace CLI {
class App;
}

namespace rewound::tool {

/// A record and what it is judged by, as named on the command line.
struct judging_options {
  std::string record;
  std::string earlier;
  std::string reference;
  std::string policy;
  std::string spread;
};

/// The same, read.
struct judging {
  record::visit_record record;
  job::sources compare_with;
  verdict::policy policy;
};

/// Adds the record and the options --earlier, --reference and --policy to a command.
void add_judging(CLI::App& command, judging_options& asked, const char* record = "The record, a TOML file");

/// What a record is judged beside. @throws base::error for a file that cannot be read
job::sources load_sources(const judging_options& asked);

/// The policy asked for, or the default one, with a learnt spread laid over it where one is named. @throws base::error
/// for a file that cannot be read
verdict::policy load_policy(const std::string& file, const std::string& spread = {});

/// @throws base::error for a file that cannot be read
judging load(const judging_options& asked);

}  // namespace rewound::tool
