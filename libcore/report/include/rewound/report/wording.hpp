// SPDX-License-Identifier: MIT
#pragma once

#include <string>
#include <string_view>

#include <rewound/verdict/finding.hpp>

namespace rewound::report {

/// What is said of a statement: the sentence, what to do while it stands in the way of a release, and the condition
/// that a release carries because of it. Braces name numbers and texts of the finding.
struct words {
  std::string_view sentence;
  std::string_view advice;
  std::string_view condition;
};

/// The words for a statement. Every sentence that a person reads about a finding is in this one table.
const words& words_for(verdict::statement says);

/// A phrase for a text of a finding, such as ("why", "digits_transposed"); the text itself where there is none.
std::string_view phrase_for(std::string_view key, std::string_view text);

std::string sentence(const verdict::finding& finding);
std::string advice(const verdict::finding& finding);
std::string condition(const verdict::finding& finding);

/// The same where there is room for a line or two (src/words/short_sentences.hpp): one clause each.
///
/// @param then  the earlier visit that the finding compares with, such as "in May 2025"
std::string short_sentence(const verdict::finding& finding, std::string_view then);
std::string short_advice(const verdict::finding& finding, std::string_view then);

/// A sentence up to its first clause's end; whole where that is short anyway.
std::string first_clause(std::string_view text);

/// What a check is called: "Speed steps".
std::string_view heading(verdict::check which);

/// What a check looks at, in words for a list: "speed steps".
std::string check_words(verdict::check which);

/// An outcome in words: "not tested" of not_tested.
std::string outcome_words(verdict::outcome value);

/// What to do about a needed check that left no finding at all.
std::string advice_for_absent(verdict::check check);

}  // namespace rewound::report
