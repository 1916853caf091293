// SPDX-License-Identifier: MIT
#pragma once

#include <string>
#include <vector>

#include <rewound/job/result.hpp>

namespace rewound::report {

/// One judged line: its outcome and what is said, with the source of the limit.
struct view_line {
  verdict::check check;
  verdict::outcome outcome;
  bool noted;  ///< told for information: not_tested then means that nothing limits it
  std::string sentence;
  std::string source;
};

/// One speed in the table of currents, every cell already rounded.
struct view_speed {
  std::string speed;
  std::string at_rated;
  std::string expected;
  std::string level;
  std::string at_supply;
  std::string exponent;
  verdict::outcome outcome;
};

/// One check as a whole: the worst outcome of what decides on it.
struct view_test {
  verdict::check check;
  verdict::outcome outcome;
};

/// What what stands in the way of a release may do to people and machine, the worst first.
enum class danger { insulation, frame, overload, other };

/// The answer where there is room for a line or two each.
struct short_answer {
  std::vector<std::string> reasons;     ///< at most three; findings that say the same are told together
  std::string likely;                   ///< the likeliest cause; empty where nothing asks for one
  std::vector<std::string> next;        ///< at most three
  std::size_t more_next = 0;            ///< steps beyond those
  std::vector<std::string> conditions;  ///< of a release; empty otherwise
  std::vector<std::string> cautions;    ///< one line, and one more where a step under power is to come
};

/// Everything that a person is shown, worded and rounded once: text, JSON and pages are made from it.
struct view {
  std::string title;                    ///< machine and what it is
  std::string subtitle;                 ///< visit, rating, mains
  std::vector<std::string> own_limits;  ///< numbers of the shop's own that lie over ours
  std::string decision;                 ///< release, hold, undecided
  std::string decision_sentence;
  std::vector<std::string> reasons;     ///< at most three
  std::vector<std::string> next;        ///< what to do, weightiest first
  std::vector<std::string> conditions;  ///< of a release; empty otherwise
  std::string expectation;              ///< what the draw was judged by
  std::vector<view_speed> speeds;
  std::vector<view_line> findings;  ///< in the order of judgement
  std::vector<std::string>
      causes;  ///< what may stand behind the findings, likeliest first; empty where nothing asks for one
  std::vector<std::string>
      telling;                   ///< the two measurements that would tell most of the cause, and what they would mean
  std::vector<view_test> tests;  ///< one a check that is due on this machine, those without a judgement not_tested
  std::vector<std::string> not_tested;   ///< checks without a judgement, by their headings
  std::vector<std::string> instruments;  ///< as recorded, with their accuracy
  std::vector<std::string> cautions;
  short_answer brief;
  std::string rated;             ///< "230 V"
  std::string mains;             ///< the same of today's mains; empty where it is not known or the rated one
  danger worst = danger::other;  ///< of what fails, or is open
  std::string deciding;          ///< the speed whose current stands behind the decision most; empty without a run-up
};

/// "as found", "after repair" or "recheck".
std::string state_words(record::visit_state state);

/// How long a winding is discharged after an insulation test.
///
/// @param applied_s  seconds that the test voltage was on; 0 where a test is only proposed
std::string discharge_caution(double applied_s);

view view_of(const job::result& result);

}  // namespace rewound::report
