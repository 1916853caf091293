// SPDX-License-Identifier: MIT
#include "csv.hpp"

#include <cerrno>
#include <cstring>
#include <fstream>

#include <rewound/base/error.hpp>

namespace rewound::job {

namespace {

using base::error;
using base::error_code;

std::string trimmed(const std::string& text) {
  const auto first = text.find_first_not_of(" \t\r");
  if (first == std::string::npos) return "";
  return text.substr(first, text.find_last_not_of(" \t\r") - first + 1);
}

std::vector<std::string> split(const std::string& line, const std::string& file, int number) {
  std::vector<std::string> cells{""};
  bool quoted = false;
  for (std::size_t i = 0; i < line.size(); ++i) {
    const char c = line[i];
    if (quoted && c == '"' && i + 1 < line.size() && line[i + 1] == '"') cells.back() += line[++i];
    else if (c == '"') quoted = !quoted;
    else if (c == ',' && !quoted) cells.emplace_back();
    else cells.back() += c;
  }
  if (quoted) throw error(error_code::bad_table, {file, number, ""}, "a quotation mark that is not closed", "closed quotation marks on each line");
  for (auto& cell : cells) cell = trimmed(cell);
  return cells;
}

}  // namespace

csv_table read_csv(const std::string& path) {
  std::ifstream in(path);
  if (!in) throw error(error_code::file_unreadable, {path, 0, ""}, std::strerror(errno), "a file that can be read");
  csv_table out{path, {}, {}};
  std::string line;
  for (int number = 1; std::getline(in, line); ++number) {
    if (number == 1 && line.starts_with("\xef\xbb\xbf")) line.erase(0, 3);
    if (trimmed(line).empty()) continue;
    auto cells = split(line, path, number);
    if (out.columns.empty()) {
      out.columns = std::move(cells);
      continue;
    }
    if (cells.size() != out.columns.size())
      throw error(error_code::bad_table, {path, number, ""}, std::to_string(cells.size()) + " cells",
                  std::to_string(out.columns.size()) + " cells, as in the header");
    out.rows.push_back({number, std::move(cells)});
  }
  if (out.columns.empty()) throw error(error_code::empty_file, {path, 0, ""}, "an empty file", "a header line and rows");
  if (out.rows.empty()) throw error(error_code::empty_list, {path, 0, ""}, "no rows", "at least one row");
  return out;
}

}  // namespace rewound::job
