// SPDX-License-Identifier: MIT
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include <rewound/base/error.hpp>
#include <rewound/record/record.hpp>

namespace rewound::tool::dialogue {

/// One line of the journal: when, what kind of event, and its text.
struct journal_entry {
  std::string time;  ///< UTC, ISO 8601
  /// typed, answer, given, kept, refused, changed, undone, stated, noted, measured, stopped, opened, closed
  std::string kind;
  std::string text;
};

/// A journal's line taken apart; nothing for a line that a kill left unfinished.
std::optional<journal_entry> journal_entry_of(std::string_view line);

/// What a journal's file holds; nothing where there is none.
std::vector<journal_entry> journal_entries(const std::string& path);

/// Another bench took the record while this one had it: its journal was removed by hand. Nothing more is written here.
struct record_taken : base::error {
  using base::error::error;
};

/// Keeps a record on disk, whole at any moment, and beside it `<record>.journal`: one line for everything typed, kept
/// or changed, each flushed to disk before the next prompt. While it lives no other bench can open the same record:
/// journal and record are locked, and before each writing it is seen to that the journal under its name is still the
/// one that is locked. A journal that was removed meanwhile is written again.
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
  /// @throws record_taken
  std::string note(std::string_view kind, std::string_view text);

  /// Writes the record: into a temporary file, flushed, renamed over the old one, the folder flushed.
  ///
  /// What another hand wrote into the file since it was last read or written here is kept as
  /// `<record>.edited-meanwhile`.
  ///
  /// @returns the name of that copy, or nothing where the file was as it was left
  /// @throws base::error (file_unwritable); the record on disk is then the one before; record_taken
  std::optional<std::string> save(const record::visit_record& in);

  /// Keeps a record that is not as this program writes it as it is, as `<record>.before-bench`: remarks and layout are
  /// not rewritten. Copies are numbered; none is overwritten.
  /// @returns the copy's name, or nothing where there is nothing to lose or a copy has it already
  std::optional<std::string> keep_original();

  /// Where the journal says that a record was made and there is none now, the journal is kept under a numbered name and
  /// a new one begun. @returns the old journal's name @throws base::error (file_unwritable)
  std::optional<std::string> set_journal_aside_of_a_record();

 private:
  std::string path_;
  std::string last_text_;  ///< of the record's file, as it was last read or written here
  int journal_ = -1;       ///< open and locked
  int record_ = -1;        ///< the same, once there is one
  std::vector<journal_entry> earlier_;

  void open_journal();
  bool hold_record();  ///< locks the file that now has the record's name. @returns false where another bench has it
  void expect_still_ours();
};

/// Whether an entry says that the answers before it are in a record.
bool makes_a_record(const journal_entry& entry);

/// What an earlier session took and did not keep, since a kill came between: the answers given since the last change,
/// and the last line typed where nothing was made of it.
std::optional<std::string> left_hanging(const std::vector<journal_entry>& entries);

}  // namespace rewound::tool::dialogue
