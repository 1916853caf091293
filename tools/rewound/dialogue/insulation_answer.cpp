// SPDX-License-Identifier: MIT
#include "insulation_answer.hpp"

#include <array>
#include <string>

#include <rewound/base/error.hpp>

#include "typed_reading.hpp"

namespace rewound::tool::dialogue {

namespace {

constexpr double ohms_in_megohm = 1e6;
constexpr std::string_view insulation_help = "megohms, or seconds and megohms; over range: >2000 or OL";

/// Signs and words before the number that a resistance is at least.
constexpr auto signs_of_more =
    std::to_array<std::string_view>({">=", ">", "\u2265", "over ", "above ", "at least ", "more than "});

/// What testers show and people write where a resistance is beyond the range.
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

std::optional<double> time_before(std::string_view text) {
  const auto left = without_blanks_around(text);
  if (left.empty()) return std::nullopt;
  return parse_number(left, quantity::time, 1.0);
}

}  // namespace

insulation_answer parse_insulation(std::string_view text) {
  const auto whole = without_blanks_around(text);
  const auto lower = small_letters(whole);
  for (const auto word : words_for_over_range) {
    if (!std::string_view(lower).ends_with(word)) continue;
    const auto before = whole.substr(0, whole.size() - word.size());
    if (before.empty() || before.ends_with(' ')) return {time_before(before), std::nullopt, true};
  }
  for (const auto sign : signs_of_more) {
    const auto found = lower.find(sign);
    if (found == std::string::npos) continue;
    const auto least = parse_number(whole.substr(found + sign.size()), quantity::resistance, ohms_in_megohm);
    return {time_before(whole.substr(0, found)), least, true};
  }
  const auto count = parse_line(whole, {}).numbers.size();
  if (count == 1) return {std::nullopt, parse_number(whole, quantity::resistance, ohms_in_megohm), false};
  if (count != 2)
    throw base::error(base::error_code::out_of_range, {}, "\"" + std::string(whole) + "\"",
                      std::string(insulation_help));
  const auto [seconds, megohms] = parse_pair(whole, quantity::time, 1.0, quantity::resistance, ohms_in_megohm);
  return {seconds, megohms, false};
}

}  // namespace rewound::tool::dialogue
