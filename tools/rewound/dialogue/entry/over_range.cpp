// SPDX-License-Identifier: MIT
#include "dialogue/entry/over_range.hpp"

#include <array>

namespace rewound::tool::dialogue {

namespace {

/// Signs and words before the number that a reading is at least.
constexpr auto signs_of_more =
    std::to_array<std::string_view>({">=", ">", "\u2265", "over ", "above ", "at least ", "more than "});

/// What meters show and people write where a reading is beyond the range.
constexpr auto words_for_over_range =
    std::to_array<std::string_view>({"over range", "overrange", "over-range", "infinite", "infinity", "inf", "\u221e",
                                     "o.l.", "o.l", "ovl", "ofl", "ol", "over"});

std::string_view without_blanks_around(std::string_view text) {
  while (text.starts_with(' ')) text.remove_prefix(1);
  while (text.ends_with(' ')) text.remove_suffix(1);
  return text;
}

std::string small_letters(std::string_view text) {
  std::string out(text);
  for (char& c : out)
    if (c >= 'A' && c <= 'Z') c = static_cast<char>(c - 'A' + 'a');
  return out;
}

}  // namespace

std::optional<over_range_text> over_range_in(std::string_view text) {
  const auto whole = without_blanks_around(text);
  const auto lower = small_letters(whole);
  for (const auto word : words_for_over_range) {
    if (!std::string_view(lower).ends_with(word)) continue;
    const auto before = whole.substr(0, whole.size() - word.size());
    if (before.empty() || before.ends_with(' ')) return over_range_text{std::string(without_blanks_around(before)), ""};
  }
  for (const auto sign : signs_of_more) {
    const auto found = lower.find(sign);
    if (found == std::string::npos) continue;
    const auto least = without_blanks_around(whole.substr(found + sign.size()));
    if (least.empty()) return std::nullopt;  // a sign alone says less than `OL`
    return over_range_text{std::string(without_blanks_around(whole.substr(0, found))), std::string(least)};
  }
  return std::nullopt;
}

}  // namespace rewound::tool::dialogue
