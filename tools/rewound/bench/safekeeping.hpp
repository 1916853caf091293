// SPDX-License-Identifier: MIT
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include <rewound/job/record.hpp>

namespace rewound::tool::bench {

/// One line of the journal: when, what kind of event, and its text.
struct journal_entry {
  std::string time;  ///< UTC, ISO 8601
  std::string kind;  ///< typed, answer, kept, refused, changed, undone, measured, stopped, opened, closed
  std::string text;
};

/// A journal's line taken apart; nothing for a line that a kill left unfinished.
std::optional<journal_entry> journal_entry_of(std::string_view line);

/// Keeps a record on disk, whole at any moment, and beside it `<record>.journal`: one line for everything typed, kept
/// or changed, each flushed to disk before the next prompt. While it lives no other bench can open the same record.
class safekeeping {
 public:
  /// @throws base::error (file_unwritable) where the journal cannot be opened or another bench holds the record
  explicit safekeeping(const std::string& path);
  ~safekeeping();
  safekeeping(const safekeeping&) = delete;
  safekeeping& operator=(const safekeeping&) = delete;

  const std::string& path() const { return path_; }
  std::string journal_path() const { return path_ + ".journal"; }
  const std::vector<journal_entry>& earlier() const { return earlier_; }  ///< of sessions before this one

  /// Adds a line to the journal and flushes it. @returns the trouble where the disk takes no more; empty when written
  std::string note(std::string_view kind, std::string_view text);

  /// Writes the record: into a temporary file, flushed, renamed over the old one, the folder flushed.
  ///
  /// @throws base::error (file_unwritable); the record on disk is then the one before
  void save(const job::record& in);

  /// Keeps a hand-written record as it was, once, as `<record>.before-bench`: its remarks are not rewritten.
  /// @returns the copy's name, or nothing where there was one already
  std::optional<std::string> keep_original();

 private:
  std::string path_;
  int journal_ = -1;
  std::vector<journal_entry> earlier_;
};

/// The last line typed in an earlier session that was neither kept, refused nor answered: a kill came between.
std::optional<std::string> left_hanging(const std::vector<journal_entry>& entries);

}  // namespace rewound::tool::bench
