// SPDX-License-Identifier: MIT
#pragma once

#include <string>
#include <string_view>
#include <vector>

namespace CLI {
class App;
}

namespace rewound::tool {

/// How and where a result is shown, as asked for on the command line.
struct output_options {
  std::string format = "text";
  std::string file;  ///< empty: standard output
};

/// Adds the options --format and --out to a command; the first of the formats is the usual one.
void add_output(CLI::App& command, output_options& asked, const std::vector<std::string>& formats = {"text", "json"});

/// Refuses an output that was read as an input, by whatever name. @throws base::error usage
void expect_no_input(const std::string& file);

/// Writes to the file, whole or not at all, or to standard output where no file is named. All commands write by this.
///
/// @throws base::error file_unwritable; usage for a file that was an input
void write_out(const std::string& file, std::string_view content);

/// One line on standard error, with nothing in it that steers a terminal.
void tell(std::string_view line);

/// Writes a result in the format asked for.
template <class Result>
void show(const output_options& asked, const Result& result, std::string (*text)(const Result&),
          std::string (*json)(const Result&)) {
  write_out(asked.file, asked.format == "json" ? json(result) : text(result));
}

}  // namespace rewound::tool
