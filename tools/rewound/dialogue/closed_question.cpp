// SPDX-License-Identifier: MIT
#include "closed_question.hpp"

#include <algorithm>
#include <cmath>

#include <rewound/base/error.hpp>

namespace rewound::tool::dialogue {

namespace {

std::string in_small_letters(std::string_view text) {
  std::string out(text);
  for (char& c : out)
    if (c >= 'A' && c <= 'Z') c = static_cast<char>(c - 'A' + 'a');
  return out;
}

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

std::optional<std::string> chosen_of(std::string_view line, const std::vector<std::string>& words) {
  auto typed = in_small_letters(without_blanks(line));
  if (typed == "y") typed = "yes";
  if (typed == "n") typed = "no";
  for (const auto& word : words)
    if (in_small_letters(word) == typed) return word;
  return std::nullopt;
}

bool reads_as_number(std::string_view name) {
  if (name.find_first_not_of("0123456789.,+- ") == std::string_view::npos) return !without_blanks(name).empty();
  try {
    return !parse_line(name, {}).numbers.empty();
  } catch (const base::error&) {
    return false;
  }
}

std::string ask_choice(session& at, const std::string& prompt, const std::vector<std::string>& words,
                       const std::string& usual, const std::optional<step>& here) {
  std::string allowed;
  for (const auto& word : words) allowed += (allowed.empty() ? "" : &word == &words.back() ? " or " : ", ") + word;
  for (;;) {
    const auto line = at.ask(prompt + (usual.empty() ? "" : " [" + usual + "]") + " > ", here);
    const auto word = line.empty() && !usual.empty() ? std::optional(usual) : chosen_of(line, words);
    if (word) {
      at.note_given(prompt, *word);
      return *word;
    }
    tell_refused(at, line, "type " + allowed);
  }
}

std::string ask_name(session& at, const std::string& prompt, const std::optional<step>& here) {
  for (;;) {
    const auto line = at.ask(prompt, here);
    if (!reads_as_number(line)) {
      if (!line.empty()) at.note_given("name", line);
      return line;
    }
    tell_refused(at, line, "a name belongs here; a reading is asked for next");
  }
}

int ask_whole(session& at, const std::string& prompt, int usual) {
  for (;;) {
    const auto line = at.ask(prompt + " [" + std::to_string(usual) + "] > ");
    try {
      const double value = line.empty() ? usual : parse_number(line, quantity::plain, 1.0);
      if (value == std::round(value) && value >= 0.0 && value < 1e6) {
        at.note_given(prompt, std::to_string(static_cast<int>(value)));
        return static_cast<int>(value);
      }
      tell_refused(at, line, "a whole number, as " + std::to_string(usual));
    } catch (const base::error& trouble) {
      at.refuse(line, trouble);
    }
  }
}

}  // namespace rewound::tool::dialogue
