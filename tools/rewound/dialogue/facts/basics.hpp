// SPDX-License-Identifier: MIT
#pragma once

#include <functional>
#include <map>
#include <optional>
#include <string>
#include <vector>

#include <rewound/record/record.hpp>

#include "dialogue/entry/choices.hpp"
#include "dialogue/facts/facts.hpp"
#include "dialogue/judging.hpp"
#include "dialogue/keeping/safekeeping.hpp"
#include "dialogue/person/terminal.hpp"

namespace rewound::tool::dialogue {

/// Answers by the names of their questions, as typed; facts that were stated beside them by their paths.
using answers_given = std::map<std::string, std::string>;

/// One question about the machine or the visit, asked before a record's first saving.
struct question {
  std::string name;               ///< under which its answer stands in the journal
  std::vector<std::string> keys;  ///< of the record: what it is about
  std::string asks;
  std::vector<choice> choices = {};  ///< none: the answer is free
  bool several = false;              ///< of the choices
  bool required = false;
  std::function<typed_facts(const std::string&)> take = {};  ///< the facts that an answer states
  std::function<bool(const answers_given&)> due = {};        ///< whether it is asked; always where it is empty
};

/// What the questions of a new record begin with.
struct beginning {
  std::string today;           ///< ISO date
  record::visit_record base;   ///< what is known already; stand-ins for what is required
  bool machine_known = false;  ///< by an earlier visit, or as the same as another
  answers_given usual;         ///< what Enter takes
};

/// Of a machine of which nothing is known but what it is judged by: the reference, the earlier visit.
beginning beginning_of(const judged_by& by, const std::string& today);

/// With the facts of another machine, but for its number and what is its own.
void same_as(beginning& begin, const record::machine_section& other);

/// The questions, in order.
std::vector<question> basic_questions(const beginning& begin);

/// The record that these answers make, with nothing read yet. @throws base::error of the record's own reader
record::visit_record record_of(const beginning& begin, const answers_given& answers);

/// Asks the basics of a new record, one after another. Each answer is in the journal before the next question; those
/// that an earlier session left there are taken up.
///
/// @throws gone
record::visit_record ask_basics(terminal& person, safekeeping& disk, const judged_by& by);

}  // namespace rewound::tool::dialogue
