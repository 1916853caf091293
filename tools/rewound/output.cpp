// SPDX-License-Identifier: MIT
#include "output.hpp"

#include <cstdio>

#include <sys/stat.h>
#include <unistd.h>

#include <CLI/CLI.hpp>

#include <rewound/base/characters.hpp>
#include <rewound/base/error.hpp>
#include <rewound/record/read_file.hpp>
#include <rewound/record/write_file.hpp>

namespace rewound::tool {

void add_output(CLI::App& command, output_options& asked, const std::vector<std::string>& formats) {
  asked.format = formats.front();
  command.add_option("--format", asked.format, "How it is shown")->check(CLI::IsMember(formats))->capture_default_str();
  command.add_option("--out", asked.file, "Write to this file instead of standard output");
}

namespace {

/// Whether a name is one of standard output's: that is then written on with, not replaced.
bool is_standard_output(const std::string& file) {
  struct stat named {};
  struct stat ours {};
  return ::stat(file.c_str(), &named) == 0 && ::fstat(STDOUT_FILENO, &ours) == 0 && named.st_dev == ours.st_dev &&
         named.st_ino == ours.st_ino;
}

}  // namespace

void expect_no_input(const std::string& file) {
  if (!file.empty() && record::was_read(file))
    throw base::error(base::error_code::usage, {"", 0, "--out"}, file + ", which is an input of this command",
                      "another name");
}

void tell(std::string_view line) {
  const auto seen = base::seen_text(line) + "\n";
  std::fwrite(seen.data(), 1, seen.size(), stderr);
}

void write_out(const std::string& file, std::string_view content) {
  expect_no_input(file);
  if (!file.empty() && !is_standard_output(file)) {
    record::write_whole_file(file, content);
    return;
  }
  // What a record's names hold must not steer a terminal; a file or a pipe gets them as they are.
  const auto seen =
      ::isatty(STDOUT_FILENO) == 1 ? base::seen_text(content, base::replacement_character, true) : std::string();
  if (!seen.empty()) content = seen;
  if (std::fwrite(content.data(), 1, content.size(), stdout) != content.size() || std::fflush(stdout) != 0)
    throw base::error(base::error_code::file_unwritable, {"standard output", 0, ""}, "a write error", "an open output");
}

}  // namespace rewound::tool
