// SPDX-License-Identifier: MIT
#include "markup.hpp"

#include <array>
#include <utility>

#include <rewound/base/characters.hpp>

namespace rewound::report {

namespace {

using base::character;
using base::next_character;

/// Marks that stand above or below the letter before them (blocks of the Unicode Standard named Combining Diacritical
/// Marks).
bool combines(char32_t code) {
  return (code >= 0x0300 && code <= 0x036F) || (code >= 0x1AB0 && code <= 0x1AFF) ||
         (code >= 0x1DC0 && code <= 0x1DFF) || (code >= 0x20D0 && code <= 0x20FF) || (code >= 0xFE20 && code <= 0xFE2F);
}

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
  out += base::is_seen(c.code) ? bytes : base::replacement_character;
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
