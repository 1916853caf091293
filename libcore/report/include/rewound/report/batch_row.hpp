// SPDX-License-Identifier: MIT
#pragma once

#include <string>
#include <string_view>

#include <rewound/job/result.hpp>

// A batch's results as comma-separated rows (RFC 4180), each one line that ends in a newline.
namespace rewound::report {

/// Names of the columns, as the first row.
std::string batch_head();

/// One judged machine. Reasons are those of the report; levels carry their 95 % interval.
std::string batch_row(std::string_view file, const job::result& result);

/// A machine that could not be judged, with the reason; its decision is empty.
std::string batch_trouble_row(std::string_view machine, std::string_view file, std::string_view trouble);

/// A text as one cell: quoted where it must be, control characters as blanks. A text that a spreadsheet would take for
/// a formula, since it starts with = + - @, a tab or a carriage return and is no number, gets an apostrophe before it.
std::string csv_cell(std::string_view text);

}  // namespace rewound::report
