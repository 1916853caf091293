// SPDX-License-Identifier: MIT
#pragma once

#include <optional>
#include <string>
#include <string_view>

#include "opened_file.hpp"

namespace rewound::record {

/// Lines of a file one after another, of any file in bounded memory.
class line_reader {
 public:
  /// @throws base::error file_unreadable
  explicit line_reader(std::string path);

  /// The next line without its end, good until the next call; none after the last.
  ///
  /// @throws base::error file_unreadable; bad_table for a line longer than a megabyte
  std::optional<std::string_view> next();

  /// Number of the line last given, from 1.
  int number() const { return number_; }

 private:
  bool fill();

  std::string path_;
  std::string buffer_;
  std::size_t begin_ = 0;  ///< of what was not given yet
  std::size_t end_ = 0;
  opened_file file_;
  int number_ = 0;
};

}  // namespace rewound::record
