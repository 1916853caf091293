// SPDX-License-Identifier: MIT
#include "markup.hpp"

#include <array>
#include <utility>

namespace rewound::report {

namespace {

constexpr std::string_view replacement = "\xEF\xBF\xBD";

/// One character of UTF-8 text: its code point and its bytes; a broken byte stands for the replacement character.
struct character {
  char32_t code = 0xFFFD;
  std::size_t bytes = 1;
};

character next_character(std::string_view text) {
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

/// Marks that change the direction of what follows, and other characters that are seen by their effect alone
/// (Unicode Standard Annex 9, section 2; U+2028, U+2029 and U+FEFF).
bool steers(char32_t code) {
  return code == 0x061C || code == 0x200E || code == 0x200F || (code >= 0x202A && code <= 0x202E) ||
         (code >= 0x2066 && code <= 0x2069) || code == 0x2028 || code == 0x2029 || code == 0xFEFF || code == 0x00AD ||
         code == 0x180E || code == 0x200B || (code >= 0x2060 && code <= 0x2064) || (code >= 0x206A && code <= 0x206F) ||
         (code >= 0xFFF9 && code <= 0xFFFB) || (code >= 0xE0000 && code <= 0xE007F);
}

/// Marks that stand above or below the letter before them (blocks of the Unicode Standard named Combining Diacritical
/// Marks).
bool combines(char32_t code) {
  return (code >= 0x0300 && code <= 0x036F) || (code >= 0x1AB0 && code <= 0x1AFF) ||
         (code >= 0x1DC0 && code <= 0x1DFF) || (code >= 0x20D0 && code <= 0x20FF) || (code >= 0xFE20 && code <= 0xFE2F);
}

bool is_control(char32_t code) { return code < 0x20 || (code >= 0x7F && code < 0xA0); }

bool is_noncharacter(char32_t code) { return (code & 0xFFFE) == 0xFFFE || (code >= 0xFDD0 && code <= 0xFDEF); }

void append_escaped(std::string& out, const character& c, std::string_view bytes) {
  switch (c.code) {
    case U'<': out += "&lt;"; return;
    case U'>': out += "&gt;"; return;
    case U'&': out += "&amp;"; return;
    case U'"': out += "&quot;"; return;
    case U'\'': out += "&#39;"; return;
    case U'\n':
    case U'\r':
    case U'\t': out += ' '; return;
    default: break;
  }
  if (c.code == 0xFFFD || is_control(c.code) || steers(c.code) || is_noncharacter(c.code)) out += replacement;
  else out += bytes;
}

}  // namespace

std::string escaped(std::string_view text) {
  std::string out;
  out.reserve(text.size() + text.size() / 8);
  constexpr int most_marks = 3;  // on one letter; more would paint over what stands around
  int marks = 0;
  while (!text.empty()) {
    const auto c = next_character(text);
    marks = combines(c.code) ? marks + 1 : 0;
    if (marks <= most_marks) append_escaped(out, c, text.substr(0, c.bytes));
    text.remove_prefix(c.bytes);
  }
  return out;
}

std::string typeset(std::string_view text) {
  std::string out = escaped(text);
  constexpr std::array<std::pair<std::string_view, std::string_view>, 4> signs{
      {{" +- ", " \u00b1 "}, {" degC", " \u00b0C"}, {" Mohm", " M\u03a9"}, {" ohm", " \u03a9"}}};
  for (const auto& [plain, sign] : signs)
    for (auto at = out.find(plain); at != std::string::npos; at = out.find(plain, at + 1)) {
      const char after = at + plain.size() < out.size() ? out[at + plain.size()] : ' ';
      const bool longer_word = plain.back() != ' ' && after >= 'a' && after <= 'z';
      if (!longer_word) out.replace(at, plain.size(), sign);
    }
  return out;
}

std::string shortened(std::string_view text, std::size_t most) {
  std::string_view left = text;
  std::string out;
  std::size_t before_last = 0;
  for (std::size_t count = 0; !left.empty(); ++count) {
    const auto c = next_character(left);
    if (count == most) return out.substr(0, before_last) + "\u2026";
    before_last = out.size();
    out += left.substr(0, c.bytes);
    left.remove_prefix(c.bytes);
  }
  return out;
}

std::string element(std::string_view tag, std::string_view css_class, std::string_view content) {
  std::string out = "<" + std::string(tag);
  if (!css_class.empty()) out += " class=\"" + std::string(css_class) + "\"";
  out += ">";
  out += content;
  return out + "</" + std::string(tag) + ">";
}

std::string text_element(std::string_view tag, std::string_view css_class, std::string_view text) {
  return element(tag, css_class, escaped(text));
}

}  // namespace rewound::report
