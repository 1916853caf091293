// SPDX-License-Identifier: MIT
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <iosfwd>
#include <string>
#include <string_view>

namespace rewound::tool {

/// What became of a machine of a batch, as the progress file notes it.
enum class batch_outcome : std::size_t { release, hold, not_decided, unreadable, internal };
inline constexpr std::size_t batch_outcome_count = 5;

/// Machines by what became of them.
using outcome_counts = std::array<std::size_t, batch_outcome_count>;

/// A file of results that grows machine by machine and survives being killed at any moment.
///
/// Beside it lies a file of its progress (NAME.run): a line that tells which run it belongs to, then one for each
/// finished machine with the length of the results up to there, their checksum and the outcome. It is written after the
/// results, so that what it vouches for is there; anything beyond is dropped and judged again.
class results_file {
 public:
  /// Opens standard output when `path` is empty.
  ///
  /// @param run    tells input and options; an unfinished file of another run is not touched
  /// @param head   what stands before the first machine
  /// @param fresh  replaces whatever is there
  /// @throws base::error records_do_not_match for results of another run, file_unwritable
  results_file(std::string path, std::uint64_t run, std::string_view head, bool fresh);
  ~results_file();
  results_file(const results_file&) = delete;
  results_file& operator=(const results_file&) = delete;

  /// Machines that an earlier run had finished.
  std::size_t taken_over() const { return taken_over_; }

  /// What became of all machines in the file, those taken over among them.
  const outcome_counts& outcomes() const { return outcomes_; }

  /// Adds a machine's piece. @throws base::error file_unwritable
  void add(std::string_view piece, batch_outcome outcome);

  /// Everything on disk. @throws base::error file_unwritable
  void finish();

 private:
  bool resume(std::uint64_t run);
  void take_over(std::istream& progress);
  void begin(std::uint64_t run, std::string_view head);
  void expect_own_progress() const;
  void lock_progress() const;
  bool keeps_progress() const { return progress_ >= 0; }

  std::string path_;
  std::string progress_path_;
  int results_ = -1;
  int progress_ = -1;
  std::uint64_t length_ = 0;
  std::uint64_t checksum_ = 0;
  std::size_t taken_over_ = 0;
  outcome_counts outcomes_{};
};

}  // namespace rewound::tool
