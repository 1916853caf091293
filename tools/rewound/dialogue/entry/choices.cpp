// SPDX-License-Identifier: MIT
#include "dialogue/entry/choices.hpp"

#include <algorithm>
#include <charconv>

namespace rewound::tool::dialogue {

namespace {

std::string as_said(std::string_view text) {
  while (text.starts_with(' ')) text.remove_prefix(1);
  while (text.ends_with(' ')) text.remove_suffix(1);
  std::string out(text);
  for (char& c : out) {
    if (c >= 'A' && c <= 'Z') c = static_cast<char>(c - 'A' + 'a');
    if (c == '_') c = ' ';
  }
  return out;
}

}  // namespace

std::string numbered(const std::vector<choice>& choices) {
  std::string out;
  for (std::size_t i = 0; i < choices.size(); ++i) {
    auto word = choices[i].word;
    std::replace(word.begin(), word.end(), '_', ' ');
    out += (i == 0 ? "" : ", ") + std::to_string(i + 1) + "=" + word;  // no line breaks between them
    if (!choices[i].gloss.empty()) out += " (" + choices[i].gloss + ")";
  }
  return out;
}

std::optional<std::string> chosen_of(std::string_view line, const std::vector<choice>& choices) {
  auto typed = as_said(line);
  if (typed == "y") typed = "yes";
  if (typed == "n") typed = "no";
  for (const auto& each : choices)
    if (as_said(each.word) == typed) return each.word;
  std::size_t number = 0;
  const auto* end = typed.data() + typed.size();
  const bool whole = std::from_chars(typed.data(), end, number) == std::from_chars_result{end, std::errc()};
  if (whole && number >= 1 && number <= choices.size()) return choices[number - 1].word;
  return std::nullopt;
}

std::optional<std::vector<std::string>> several_of(std::string_view line, const std::vector<choice>& choices) {
  std::vector<std::string> out;
  std::string word;
  for (const char c : std::string(line) + " ") {
    if (c != ' ' && c != ',') {
      word += c;
      continue;
    }
    if (word.empty()) continue;
    auto chosen = chosen_of(word, choices);
    if (!chosen) return std::nullopt;
    if (std::find(out.begin(), out.end(), *chosen) == out.end()) out.push_back(std::move(*chosen));
    word.clear();
  }
  return out;
}

}  // namespace rewound::tool::dialogue
