// SPDX-License-Identifier: MIT
#pragma once

#include <cstddef>
#include <string>
#include <string_view>
#include <vector>

namespace rewound::report {

/// Text in lines of at most 79 characters. Breaks at blanks; a word longer than a line is broken where the line ends.
/// Control characters become question marks.
///
/// @param first  what stands before the first line
/// @param rest   what stands before every other
std::string wrapped(const std::string& first, const std::string& rest, std::string_view raw);

/// Number of characters that are seen of UTF-8 text, one a code point.
std::size_t columns(std::string_view text);

/// A heading with its items below, and an empty line; nothing where there are no items.
std::string listed(const std::string& head, const std::vector<std::string>& items);

/// A table as lines: columns as wide as their widest cell, two blanks between them, the first cell of a row broken over
/// several lines where the table would be wider than a line. No cell is cut.
///
/// @param rows  the heads first
std::vector<std::string> table_lines(const std::vector<std::vector<std::string>>& rows);

/// A cell of a table, filled up with blanks or cut to `size` characters.
std::string cell(std::string_view text, std::size_t size);

}  // namespace rewound::report
