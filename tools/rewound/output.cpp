// SPDX-License-Identifier: MIT
#include "output.hpp"

#include <cstdio>

#include <CLI/CLI.hpp>

#include <rewound/base/error.hpp>
#include <rewound/record/write_file.hpp>

namespace rewound::tool {

void add_output(CLI::App& command, output_options& asked, const std::vector<std::string>& formats) {
  asked.format = formats.front();
  command.add_option("--format", asked.format, "How it is shown")->check(CLI::IsMember(formats))->capture_default_str();
  command.add_option("--out", asked.file, "Write to this file instead of standard output");
}

void write_out(const std::string& file, std::string_view content) {
  if (!file.empty()) {
    record::write_whole_file(file, content);
    return;
  }
  if (std::fwrite(content.data(), 1, content.size(), stdout) != content.size() || std::fflush(stdout) != 0)
    throw base::error(base::error_code::file_unwritable, {"standard output", 0, ""}, "a write error", "an open output");
}

}  // namespace rewound::tool
