// SPDX-License-Identifier: MIT
#pragma once

#include <functional>
#include <map>
#include <optional>
#include <set>
#include <string>
#include <vector>

#include "instrument_link.hpp"
#include "judging.hpp"
#include "plan.hpp"
#include "safekeeping.hpp"
#include "terminal.hpp"
#include "typed_reading.hpp"

namespace rewound::tool::dialogue {

/// The person leaves a step: it counts as done for this session, and the dialogue goes on with `to` or what comes next.
struct step_left {
  std::optional<step> to = {};
  std::optional<step> from =
      {};  ///< the step that was asked for then: of run-ups perhaps another speed's than was begun with
};

/// The person ends the session.
struct session_over {};

/// The record was changed otherwise than by the step that asked (undo, drop): the step looks again.
struct look_again {};

/// A record at the bench: everything typed goes to the journal, every change to disk, and is judged at once.
class session {
 public:
  session(terminal& person, safekeeping& disk, const judged_by& by, record::visit_record record);

  terminal& person() { return person_; }
  const record::visit_record& record() const { return record_; }
  const judged_by& by() const { return by_; }
  const job::result& judged();  ///< the judgement of the record as it stands

  /// Asks, and deals with the commands that hold everywhere; what comes back is an answer.
  ///
  /// @throws step_left, session_over, look_again, gone
  std::string ask(const std::string& prompt, const std::optional<step>& asking = {});

  /// One number, asked for until it is one. Enter takes `usual`, where there is one.
  double ask_number(const std::string& prompt, quantity what, double unit_in_si,
                    const std::optional<double>& usual = {}, const std::optional<step>& here = {});
  /// The same, but Enter says that it is not known.
  std::optional<double> ask_known(const std::string& prompt, quantity what, double unit_in_si);

  /// Puts a changed record on disk. What the record's own reader refuses is told and not kept; while the disk takes
  /// nothing the person may make room and try again, or drop the change.
  ///
  /// @param event  kept, changed or undone
  /// @returns whether it was kept
  bool keep(record::visit_record changed, const std::string& event, const std::string& what);

  /// One of several answers that are kept together: in the journal before the next is asked for. `undo` leaves them
  /// out.
  void note_given(const std::string& prompt, const std::string& answer);

  /// Tells why what was typed is not taken, and notes it.
  void refuse(const std::string& line, const base::error& trouble);

  /// A line in the journal; where the disk refuses it, the person is told once.
  void note(const std::string& kind, const std::string& text);

  /// Reads the record's instrument of a kind and tells what it said.
  /// @returns nothing, after a line that says why, where there is no reading: it is then typed
  std::optional<double> read_instrument(const std::string& kind);

  std::set<step> left;                                         ///< steps that the person left as they are
  std::optional<step> now;                                     ///< the step that asks; none between steps
  bool last_change_lost() const { return last_change_lost_; }  ///< the disk did not take it

 private:
  std::optional<double> number_of(const std::string& prompt, const std::string& line, quantity what, double unit_in_si);
  bool command(const std::string& line, const std::optional<step>& here);
  void undo();
  void leave_out();
  void drop(const std::string& which, const std::optional<step>& here);
  void correct(const std::string& rest, const std::optional<step>& here);
  void tell_decision();
  bool save(const record::visit_record& changed);

  terminal& person_;
  safekeeping& disk_;
  const judged_by& by_;
  record::visit_record record_;
  std::optional<job::result> judged_;
  /// What was done since, in which step, and the record before it.
  struct done_before {
    std::string what;
    std::optional<step> in;
    record::visit_record record;
  };
  std::vector<done_before> before_;
  bool last_change_lost_ = false;
  bool given_not_kept_ = false;  ///< answers that the record does not hold yet
  std::map<std::string, instrument_link> links_;
  bool journal_trouble_told_ = false;
};

}  // namespace rewound::tool::dialogue
