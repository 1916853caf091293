// SPDX-License-Identifier: MIT
#include "csv.hpp"

#include <sstream>

#include <rewound/base/error.hpp>
#include <rewound/record/read_file.hpp>

#include "table_columns.hpp"

namespace rewound::record {

namespace {

using base::error;
using base::error_code;

std::vector<std::string> split(const std::string& line, const std::string& file, int number) {
  std::vector<std::string_view> cells;
  std::vector<std::string> unquoted;
  cells_of_line(line, file, number, cells, unquoted);
  return {cells.begin(), cells.end()};
}

}  // namespace

csv_table read_csv(const std::string& path) {
  std::istringstream in(read_whole_file(path, largest::table));
  csv_table out{path, {}, {}};
  std::string line;
  for (int number = 1; std::getline(in, line); ++number) {
    if (number == 1 && line.starts_with("\xef\xbb\xbf")) line.erase(0, 3);
    if (line.find_first_not_of(" \t\r") == std::string::npos) continue;
    auto cells = split(line, path, number);
    if (out.columns.empty()) {
      out.columns = std::move(cells);
      continue;
    }
    expect_cells(cells.size(), out.columns.size(), path, number);
    out.rows.push_back({number, std::move(cells)});
  }
  if (out.columns.empty())
    throw error(error_code::empty_file, {path, 0, ""}, "an empty file", "a header line and rows");
  if (out.rows.empty()) throw error(error_code::empty_list, {path, 0, ""}, "no rows", "at least one row");
  return out;
}

}  // namespace rewound::record
