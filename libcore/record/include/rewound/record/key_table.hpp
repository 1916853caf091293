// SPDX-License-Identifier: MIT
#pragma once

#include <cstddef>
#include <span>
#include <string>
#include <string_view>
#include <vector>

// The list of keys (keys.hpp) as data, for what lists them: columns, blank record, documentation.
namespace rewound::record {

enum class key_kind { text, texts, number, whole_number, flag, date, word, numbers };

/// One key of a record.
struct listed_key {
  std::string section;  ///< machine, instruments.voltmeter, run_up ...
  std::string name;
  std::string unit;  ///< empty where it has none
  key_kind kind = key_kind::text;
  std::string allowed;  ///< words, or a range in words
  bool needed = false;
  bool ordinary = false;  ///< of the handful that an ordinary job needs
  bool of_row = false;    ///< one value a reading: a list of its section, or a key of its rows
  bool row_only = false;  ///< a key of rows alone
  bool by_line = false;   ///< three values on three phases
  std::string doc;
  std::string example;
};

/// All keys, in the order in which records are written; those of instruments once, for a voltmeter.
const std::vector<listed_key>& listed_keys();

struct listed_section {
  std::string name;
  std::string heading;  ///< [machine], [[run_up]]
  std::string doc;
  bool ordinary = false;
};
const std::vector<listed_section>& listed_sections();

/// A column that is one of three values under a key: what is read on three lines stands in three columns.
struct line_column {
  std::string_view column;
  std::string_view key;
  std::size_t line;
};
std::span<const line_column> line_columns();

/// The keys as a table in Markdown, section by section.
std::string key_table();

}  // namespace rewound::record
