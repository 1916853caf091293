// SPDX-License-Identifier: MIT
#pragma once

#include <deque>
#include <functional>
#include <memory>
#include <optional>
#include <set>
#include <string>
#include <string_view>

namespace rewound::tool::dialogue {

/// The person went: end of input, or an interrupt at the prompt.
struct gone {};

/// The person's side of the dialogue: lines in, lines out, at most 79 columns wide. With a terminal on both ends lines
/// are edited (libedit); without, they are read as they come and nothing but plain text is written.
class terminal {
 public:
  terminal();
  ~terminal();
  terminal(const terminal&) = delete;
  terminal& operator=(const terminal&) = delete;

  bool unicode() const { return unicode_; }  ///< the locale's characters are UTF-8
  bool moves() const { return moves_; }      ///< the line can be written over: a terminal, and not a dumb one

  /// Asks for one line. @throws gone
  std::string ask(const std::string& prompt);

  /// Says something in whole lines, wrapped; what the terminal cannot show becomes a question mark.
  void say(std::string_view text, std::string_view first = "", std::string_view rest = "  ");
  void draw(std::string_view lines);  ///< lines of a drawing, as they are

  /// A caution before a step: shown once a session, and waits for a key (Enter).
  void caution(std::string_view text);

  /// Waits for a bare Enter; a line typed instead is told not to be taken, and stands in the journal as refused.
  ///
  /// @throws base::error (out_of_range) for such a line of a pipe: what follows it would go astray too; gone for `quit`
  void wait_for_enter(const std::string& prompt);

  /// A line that replaces itself, such as a countdown; only where moves().
  void status(std::string_view text);

  /// Waits for a key during a run, in seconds. A number typed meanwhile is told not to be taken and stands in the
  /// journal as refused; words end the run and answer the next question.
  ///
  /// @returns true when Enter was pressed, words were typed or an interrupt came @throws gone at the end of input
  bool stopped_within(double seconds);

  /// Where lines go that no question takes.
  using journal_line = std::function<void(std::string_view kind, std::string_view text)>;
  void keep_journal(journal_line note) { note_ = std::move(note); }

 private:
  struct editing;
  std::string plain(std::string_view text) const;
  static std::string last_line_of(const std::string& prompt);  ///< says all of a long prompt but its end
  void echo(const std::string& prompt, const std::string& line);
  void refuse(const std::string& line, const std::string& why);
  std::unique_ptr<editing> editor_;
  std::set<std::string, std::less<>> cautioned_;
  journal_line note_;
  std::deque<std::string> typed_ahead_;  ///< words typed during a run
  long piped_lines_ = 0;
  bool unicode_ = false;
  bool moves_ = false;
  bool status_shown_ = false;
};

}  // namespace rewound::tool::dialogue
