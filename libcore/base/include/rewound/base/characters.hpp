// SPDX-License-Identifier: MIT
#pragma once

#include <cstddef>
#include <string>
#include <string_view>

// Characters of UTF-8 text, and which of them may reach a terminal or a page as they are.
namespace rewound::base {

inline constexpr std::string_view replacement_character = "\xEF\xBF\xBD";

/// One character of UTF-8 text: its code point and its bytes; a broken byte stands for the replacement character.
struct character {
  char32_t code = 0xFFFD;
  std::size_t bytes = 1;
};

/// The first character of a text that is not empty.
constexpr character next_character(std::string_view text) {
  const auto byte = [&](std::size_t i) { return static_cast<unsigned char>(text[i]); };
  const unsigned char first = byte(0);
  if (first < 0x80U) return {first, 1};
  const std::size_t length = first >= 0xF0U ? 4 : first >= 0xE0U ? 3 : 2;
  if (first < 0xC2U || first > 0xF4U || text.size() < length) return {};
  char32_t code = first & (0xFFU >> (length + 1));
  for (std::size_t i = 1; i < length; ++i) {
    if ((byte(i) & 0xC0U) != 0x80U) return {};
    code = (code << 6U) | (byte(i) & 0x3FU);
  }
  constexpr char32_t least[] = {0, 0, 0x80, 0x800, 0x10000};
  const bool surrogate = code >= 0xD800 && code <= 0xDFFF;
  if (code < least[length] || code > 0x10FFFF || surrogate) return {};
  return {code, length};
}

/// Whether a text is UTF-8 throughout.
constexpr bool is_utf8(std::string_view text) {
  while (!text.empty()) {
    const auto c = next_character(text);
    if (c.code == 0xFFFD && text.substr(0, c.bytes) != replacement_character) return false;
    text.remove_prefix(c.bytes);
  }
  return true;
}

/// Marks that change the direction of what follows, and other characters that are seen by their effect alone
/// (Unicode Standard Annex 9, section 2; U+2028, U+2029 and U+FEFF).
constexpr bool steers(char32_t code) {
  return code == 0x061C || code == 0x200E || code == 0x200F || (code >= 0x202A && code <= 0x202E) ||
         (code >= 0x2066 && code <= 0x2069) || code == 0x2028 || code == 0x2029 || code == 0xFEFF || code == 0x00AD ||
         code == 0x180E || code == 0x200B || (code >= 0x2060 && code <= 0x2064) || (code >= 0x206A && code <= 0x206F) ||
         (code >= 0xFFF9 && code <= 0xFFFB) || (code >= 0xE0000 && code <= 0xE007F);
}

constexpr bool is_control(char32_t code) { return code < 0x20 || (code >= 0x7F && code < 0xA0); }

constexpr bool is_noncharacter(char32_t code) {
  return (code & 0xFFFE) == 0xFFFE || (code >= 0xFDD0 && code <= 0xFDEF);
}

/// Whether a character is seen as what it is: not broken, no control character, nothing that steers.
constexpr bool is_seen(char32_t code) {
  return code != 0xFFFD && !is_control(code) && !steers(code) && !is_noncharacter(code);
}

/// Text that may reach a terminal: whatever is not seen as what it is gives way to `instead`; line breaks stay where
/// they are kept.
inline std::string seen_text(std::string_view text, std::string_view instead = replacement_character,
                             bool keep_lines = false) {
  std::string out;
  out.reserve(text.size());
  while (!text.empty()) {
    const auto c = next_character(text);
    const bool line = keep_lines && c.code == U'\n';
    out += line || is_seen(c.code) ? text.substr(0, c.bytes) : instead;
    text.remove_prefix(c.bytes);
  }
  return out;
}

}  // namespace rewound::base
