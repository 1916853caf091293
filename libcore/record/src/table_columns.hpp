// SPDX-License-Identifier: MIT
#pragma once

#include <cstddef>
#include <string>
#include <string_view>
#include <vector>

#include <rewound/record/document.hpp>
#include <rewound/record/key_table.hpp>

namespace rewound::record {

/// The three-phase column of a run-up of this name; null for any other.
const line_column* line_column_named(std::string_view column);

/// A cell as the value it looks like; the field's own reader then says whether that kind is right.
node cell_value(std::string_view cell, int line, const std::shared_ptr<const std::string>& file);

/// What a column of a long table holds.
enum class column_kind {
  machine_id,
  machine_key,  ///< of [machine], the same on all rows of a machine
  visit_key,    ///< of [visit], likewise
  meter_key,    ///< of [instruments.ammeter] and the others that a run-up is read with, likewise
  run_up_key,   ///< of [[run_up]], the same on all rows of a speed
  reading,      ///< one value a row
  line_reading  ///< one value a row and line of a three-phase machine
};

/// How a cell is taken: as the number or the true or false that it looks like, as the text that stands there, or as
/// texts with a semicolon between them.
enum class cell_kind { value, text, texts };

struct table_column {
  std::string name;
  column_kind kind;
  cell_kind cells = cell_kind::value;
  const line_column* line = nullptr;
};

/// The columns that a header names.
///
/// @throws base::error unknown_key (naming the nearest known one), repeated, missing_key
std::vector<table_column> table_columns(const std::vector<std::string>& header, const std::string& file, int line);

/// Cells of one line of a comma-separated table (RFC 4180 without line breaks in cells), blanks about them cut off.
///
/// @param unquoted  keeps cells that had quotation marks doubled, for as long as `cells` is used
/// @return false for a quotation mark that is not closed
bool split_cells(std::string_view line, std::vector<std::string_view>& cells, std::vector<std::string>& unquoted);

/// split_cells() of a line of a file.
///
/// @throws base::error bad_table with the line, for a quotation mark that is not closed
void cells_of_line(std::string_view line, const std::string& file, int number, std::vector<std::string_view>& cells,
                   std::vector<std::string>& unquoted);

/// @throws base::error bad_table unless a row has as many cells as its header
void expect_cells(std::size_t found, std::size_t due, const std::string& file, int number);

}  // namespace rewound::record
