// SPDX-License-Identifier: MIT
#include "dialogue/steps/closed_question.hpp"

#include <rewound/base/error.hpp>

#include "dialogue/entry/choices.hpp"

namespace rewound::tool::dialogue {

namespace {

std::string_view without_blanks(std::string_view text) {
  while (text.starts_with(' ')) text.remove_prefix(1);
  while (text.ends_with(' ')) text.remove_suffix(1);
  return text;
}

void tell_refused(session& at, const std::string& line, const std::string& allowed) {
  at.note("refused", line);
  at.person().say("\"" + line + "\" was not taken: " + allowed, "! ");
}

}  // namespace

bool reads_as_number(std::string_view name) {
  if (name.find_first_not_of("0123456789.,+- ") == std::string_view::npos) return !without_blanks(name).empty();
  try {
    return !parse_line(name, {}).numbers.empty();
  } catch (const base::error&) {
    return false;
  }
}

std::string ask_choice(session& at, const asked& prompt, const std::vector<std::string>& words,
                       const std::string& usual, const std::optional<step>& here) {
  std::string allowed;
  std::vector<choice> choices;
  for (const auto& word : words) {
    allowed += (allowed.empty() ? "" : &word == &words.back() ? " or " : ", ") + word;
    choices.push_back({word});
  }
  const bool yes_or_no = words.front() == "yes";
  const asked whole(prompt.text + (yes_or_no ? ", yes or no" : ": " + numbered(choices)) +
                        (usual.empty() ? "" : " [" + usual + "]") + " > ",
                    prompt.about);
  for (;;) {
    const auto line = at.ask(whole, here);
    auto word = line.empty() && !usual.empty() ? std::optional(usual) : chosen_of(line, choices);
    if (yes_or_no && (line == "1" || line == "2")) word.reset();  // no numbers were shown
    if (word) {
      at.note_given(prompt.text, *word);
      return *word;
    }
    tell_refused(at, line, "type " + allowed);
  }
}

std::string ask_name(session& at, const asked& prompt, const std::optional<step>& here) {
  for (;;) {
    const auto line = at.ask(prompt, here);
    if (!reads_as_number(line)) {
      if (!line.empty()) at.note_given("name", line);
      return line;
    }
    tell_refused(at, line, "a name belongs here; a reading is asked for next");
  }
}

}  // namespace rewound::tool::dialogue
