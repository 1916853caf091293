// SPDX-License-Identifier: MIT
#pragma once

#include <cstdint>
#include <memory>
#include <string>
#include <string_view>
#include <utility>
#include <variant>
#include <vector>

#include <rewound/record/date.hpp>
#include <rewound/record/read_file.hpp>

namespace rewound::record {

struct node;
struct table_entry;

using node_list = std::vector<node>;
using node_table = std::vector<table_entry>;

/// One value of a document, whatever it came from: a TOML file, a comma-separated table or a Python dict.
///
/// It remembers where it stood, so that an error can point there.
struct node {
  std::variant<std::monostate, bool, std::int64_t, double, std::string, date, node_list, node_table> value;
  int line = 0;                             ///< 0: not from a file
  std::shared_ptr<const std::string> file;  ///< name as given; null: not from a file
};

/// One key of a table with its value.
struct table_entry {
  table_entry(std::string_view name, node value) : first(name), second(std::move(value)) {}

  std::string first;
  node second;
};

/// The kind of value a node holds, in a reader's words: "a number", "a list" ...
std::string kind_of(const node& value);

/// The value as one would write it, shortened.
std::string text_of(const node& value);

/// Reads a TOML file into a document.
///
/// @param most  bytes; see read_file.hpp
/// @throws base::error file_unreadable, too_large, empty_file or not_toml with the line
node read_toml_file(const std::string& path, std::size_t most = largest::record);

/// Reads TOML text; `name` stands in for the file's name in errors.
node read_toml_text(std::string_view text, const std::string& name);

}  // namespace rewound::record
