// SPDX-License-Identifier: MIT
#pragma once

#include <cstdint>
#include <functional>
#include <memory>
#include <optional>
#include <string>

#include <rewound/record/record.hpp>

namespace rewound::record {

/// One machine of a batch, not read yet.
struct batch_item {
  std::string machine;                 ///< its id, where the source knows it before reading; may be empty
  std::string file;                    ///< where it stands: "gh07.toml", or "season.csv:12" for the first of its rows
  std::function<visit_record()> load;  ///< reads it, on any thread; throws base::error
};

/// Records one after another, in an order that does not change between two runs over the same input.
class batch_source {
 public:
  virtual ~batch_source() = default;

  /// The next machine; none after the last. @throws base::error file_unreadable when the input itself breaks off
  virtual std::optional<batch_item> next() = 0;

  /// A number that changes when a file of the input changes: by names, sizes and times of change.
  ///
  /// @param besides  a file that is no input though it may lie among it, such as the results
  virtual std::uint64_t fingerprint(const std::string& besides) const = 0;
};

/// The records of a folder (*.toml, in the order of their names, compared byte by byte), or the machines of a long
/// comma-separated table: a row a reading, keys of the record as columns, the rows of a machine together.
///
/// Memory does not grow with the size of a folder; of a table 16 to 32 bytes a machine are kept, to know one that comes
/// back.
///
/// @throws base::error file_unreadable, empty_list for a folder without records or a table without rows, empty_file,
///         unknown_key for a column that is not known (naming the nearest), missing_key for one that is needed
std::unique_ptr<batch_source> open_batch(const std::string& path);

}  // namespace rewound::record
