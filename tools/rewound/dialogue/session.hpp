// SPDX-License-Identifier: MIT
#pragma once

#include <functional>
#include <map>
#include <optional>
#include <set>
#include <string>
#include <vector>

#include "dialogue/meters/instrument_link.hpp"
#include "dialogue/judging.hpp"
#include "dialogue/plan.hpp"
#include "dialogue/keeping/safekeeping.hpp"
#include "dialogue/person/terminal.hpp"
#include "dialogue/entry/typed_reading.hpp"

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

/// A fact was stated or corrected: what is asked for may be another by it, what is being asked for again is not.
struct fact_changed : look_again {};

/// One question of a step is left, with what was answered since the last change; the step goes on.
struct question_left : look_again {};

/// What is asked, and what `?` tells of it: keys of the record by their paths, or sentences.
struct asked {
  std::string text;
  std::vector<std::string> about = {};

  asked(std::string what) : text(std::move(what)) {}
  asked(const char* what) : text(what) {}
  asked(std::string what, std::vector<std::string> explained) : text(std::move(what)), about(std::move(explained)) {}
};

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
  /// @param asking  of the question that a step asks again and again: `done` there leaves the step, at any other the
  ///                question
  /// @throws step_left, session_over, look_again, gone
  std::string ask(const asked& what, const std::optional<step>& asking = {});

  /// One number, asked for until it is one. Enter takes `usual`, where there is one.
  double ask_number(const asked& prompt, quantity what, double unit_in_si, const std::optional<double>& usual = {},
                    const std::optional<step>& here = {});
  /// The same, but Enter says that it is not known.
  std::optional<double> ask_known(const asked& prompt, quantity what, double unit_in_si);

  /// Puts a changed record on disk. What the record's own reader refuses is told and not kept; while the disk takes
  /// nothing the person may make room and try again, or drop the change.
  ///
  /// @param event  kept, changed, undone; stated or noted for what stands beside the steps
  /// @returns whether it was kept
  bool keep(record::visit_record changed, const std::string& event, const std::string& what);

  /// One of several answers that are kept together: in the journal before the next is asked for. `undo` leaves them
  /// out.
  void note_given(const std::string& prompt, const std::string& answer);

  /// Tells why what was typed is not taken, and notes it.
  void refuse(const std::string& line, const base::error& trouble);

  void tell_decision();  ///< how things stand, in a few lines

  /// A line in the journal; where the disk refuses it, the person is told once.
  void note(const std::string& kind, const std::string& text);

  /// Shows every address and query of the record's instruments and asks whether they may be used. Once, and before any
  /// of them is connected to: whoever wrote the record may be somebody else.
  void ask_for_instruments();

  /// Whether the record's instrument of a kind answers by itself, and may be asked.
  bool answers(const std::string& kind) const;

  /// Reads the record's instrument of a kind and tells what it said.
  /// @returns nothing, after a line that says why, where there is no reading: it is then typed
  std::optional<double> read_instrument(const std::string& kind);

  std::set<step> left;                                         ///< steps that the person left as they are
  std::optional<step> now;                                     ///< the step that asks; none between steps
  bool mains_asked = false;                                    ///< in this session: not asked again by each speed
  bool last_change_lost() const { return last_change_lost_; }  ///< the disk did not take it

 private:
  std::optional<double> number_of(const std::string& prompt, const std::string& line, quantity what, double unit_in_si);
  bool command(const std::string& line, const std::vector<std::string>& about, const std::optional<step>& here);
  std::string ask_line(const asked& what, const std::optional<step>& asking, bool skippable);
  bool leaves(const std::string& line, const std::optional<step>& asking, bool skippable);
  void explain(const std::vector<std::string>& about);
  void list(const std::optional<step>& here);
  void list_facts();
  void fact(const std::string& rest);
  void keep_note(const std::string& text);
  void keep_beside(record::visit_record changed, const std::string& event, const std::string& what);
  void tell_plan();
  void undo();
  void leave_out();
  void drop(const std::string& which, const std::optional<step>& here);
  void correct(const std::string& rest, const std::optional<step>& here);
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
  bool instruments_allowed_ = false;
  bool journal_trouble_told_ = false;
};

}  // namespace rewound::tool::dialogue
