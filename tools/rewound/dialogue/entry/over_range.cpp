// SPDX-License-Identifier: MIT
#include "dialogue/entry/over_range.hpp"

#include <rewound/record/beyond_range_words.hpp>

namespace rewound::tool::dialogue {

namespace {

std::string_view without_blanks_around(std::string_view text) {
  while (text.starts_with(' ')) text.remove_prefix(1);
  while (text.ends_with(' ')) text.remove_suffix(1);
  return text;
}

}  // namespace

std::optional<over_range_text> over_range_in(std::string_view text) {
  const auto whole = without_blanks_around(text);
  const auto lower = record::words::small_letters(whole);
  for (const auto word : record::words::beyond_range) {
    if (!std::string_view(lower).ends_with(word)) continue;
    const auto before = whole.substr(0, whole.size() - word.size());
    if (before.empty() || before.ends_with(' ')) return over_range_text{std::string(without_blanks_around(before)), ""};
  }
  for (const auto sign : record::words::signs_of_more) {
    const auto found = lower.find(sign);
    if (found == std::string::npos) continue;
    const auto least = without_blanks_around(whole.substr(found + sign.size()));
    if (least.empty()) return std::nullopt;  // a sign alone says less than `OL`
    return over_range_text{std::string(without_blanks_around(whole.substr(0, found))), std::string(least)};
  }
  return std::nullopt;
}

}  // namespace rewound::tool::dialogue
