// SPDX-License-Identifier: MIT
#pragma once

#include <memory>
#include <string>
#include <vector>

#include <rewound/record/record.hpp>

#include "table_columns.hpp"

namespace rewound::record {

/// The header of a long table, which all of its machines share.
struct long_table_header {
  std::string file;
  std::vector<table_column> columns;
  std::size_t machine = 0;  ///< which column names the machine
  date day;                 ///< of a visit where no column tells it
};

/// One machine's record from its rows.
///
/// What no column tells is one phase, an unknown speed control and running circuit, a machine as found, and speeds in
/// the order in which they stand, fastest first.
///
/// @param rows   the lines as they stand in the file, empty ones too
/// @param first  number of the first line
/// @throws base::error with the line, as load_record()
visit_record record_from_rows(const long_table_header& header, std::string_view rows, int first);

}  // namespace rewound::record
