// SPDX-License-Identifier: MIT
#pragma once

#include <string>
#include <vector>

namespace rewound::record {

/// A comma-separated table (RFC 4180) with a header line; line numbers count from 1 at the header.
struct csv_table {
  std::string file;
  std::vector<std::string> columns;
  struct row {
    int line;
    std::vector<std::string> cells;
  };
  std::vector<row> rows;
};

/// @throws base::error file_unreadable, empty_file, or bad_table with the line
csv_table read_csv(const std::string& path);

}  // namespace rewound::record
