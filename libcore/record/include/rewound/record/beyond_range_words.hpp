// SPDX-License-Identifier: MIT
#pragma once

#include <array>
#include <string>
#include <string_view>

// What meters show and people write where a reading lies beyond the range: one list for records and for the dialogue.
namespace rewound::record::words {

/// Signs and words before the number that a reading is at least, in small letters.
inline constexpr auto signs_of_more =
    std::to_array<std::string_view>({">=", ">", "\u2265", "over ", "above ", "at least ", "more than "});

/// Words alone, in small letters; a longer one stands before a shorter that it ends with.
inline constexpr auto beyond_range =
    std::to_array<std::string_view>({"over range", "overrange", "over-range", "overload", "infinite", "infinity", "inf",
                                     "\u221e", "o.l.", "o.l", "ovl", "ofl", "ol", "over"});

/// Letters of the Latin alphabet without accents made small, all others left.
inline std::string small_letters(std::string_view text) {
  std::string out(text);
  for (char& c : out)
    if (c >= 'A' && c <= 'Z') c = static_cast<char>(c - 'A' + 'a');
  return out;
}

}  // namespace rewound::record::words
