// SPDX-License-Identifier: MIT
#pragma once

#include <map>
#include <string>
#include <vector>

#include <rewound/record/record.hpp>

#include "judging.hpp"
#include "safekeeping.hpp"
#include "terminal.hpp"
#include "typed_reading.hpp"

namespace rewound::tool::dialogue {

/// What kind of value a question takes.
enum class answer_kind { text, number, whole, flag, words, choice, day };

/// One question about the machine or the visit, asked before a record's first saving.
struct question {
  const char* section;  ///< machine or visit
  const char* key;      ///< of the record
  const char* asks;     ///< what the person is asked
  answer_kind kind;
  quantity what = quantity::plain;
  bool required = false;
};

/// The questions, in order.
const std::vector<question>& basic_questions();

/// Answers by "machine.id" and so on, as typed.
using answers_given = std::map<std::string, std::string>;

/// What is taken where the person presses Enter: of the earlier visit, of the reference, or usual.
///
/// @param today  ISO date
answers_given usual_answers(const judged_by& by, const std::string& today);

/// The record that these answers make, with nothing read yet; what has no answer and is required has a stand-in.
///
/// @throws base::error of the record's own reader
record::visit_record record_of(const answers_given& answers);

/// Asks the basics of a new record, one after another. Each answer is in the journal before the next question; those
/// that an earlier session left there are taken up.
///
/// @throws gone
record::visit_record ask_basics(terminal& person, safekeeping& disk, const judged_by& by);

}  // namespace rewound::tool::dialogue
