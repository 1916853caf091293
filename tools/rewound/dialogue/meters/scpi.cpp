// SPDX-License-Identifier: MIT
#include "dialogue/meters/scpi.hpp"

#include <algorithm>
#include <charconv>
#include <cmath>

namespace rewound::tool::dialogue {

namespace {

constexpr double overload = 9.9e37;
constexpr double not_a_number = 9.91e37;
constexpr double beyond_any_meter = 1e16;  // ohms of the best insulation testers end below it; common practice

std::string_view trimmed(std::string_view text) {
  const auto blank = [](char c) { return c == ' ' || c == '\t' || c == '\r' || c == '\n'; };
  while (!text.empty() && blank(text.front())) text.remove_prefix(1);
  while (!text.empty() && blank(text.back())) text.remove_suffix(1);
  return text;
}

/// What an instrument sent, fit to be shown.
std::string shown(std::string_view text) {
  std::string out;
  for (const char c : text.substr(0, 40)) out += (c < 0x20 || c > 0x7e) ? '?' : c;
  return "\"" + out + "\"";
}

bool is_digit(char c) { return c >= '0' && c <= '9'; }

std::string_view unsigned_part(std::string_view word) {
  if (word.starts_with('+') || word.starts_with('-')) word.remove_prefix(1);
  return word;
}

bool digits_alone(std::string_view word) { return !word.empty() && std::all_of(word.begin(), word.end(), is_digit); }

bool digits_begin(std::string_view word) { return !word.empty() && is_digit(word.front()); }

bool near(double value, double code) { return std::abs(std::abs(value) / code - 1.0) < 1e-6; }

}  // namespace

std::variant<double, no_reading> scpi_answer(std::string_view text) {
  const auto whole = trimmed(text);
  const auto comma = whole.find(',');
  auto word = trimmed(whole.substr(0, comma));
  // "0,205" is a decimal comma as likely as a list: a whole number, and digits alone behind the comma.
  if (comma != std::string_view::npos && digits_alone(unsigned_part(word)) && digits_begin(whole.substr(comma + 1)))
    return no_reading{shown(whole) + " may be a decimal comma or a list"};
  if (word.starts_with('+')) word.remove_prefix(1);
  if (word.empty()) return no_reading{"an empty answer"};
  double value = 0.0;
  const auto [end, code] = std::from_chars(word.data(), word.data() + word.size(), value);
  if (code != std::errc() || end != word.data() + word.size() || !std::isfinite(value))
    return no_reading{shown(whole) + " is no number"};
  if (near(value, not_a_number)) return no_reading{"not a number: the instrument could not measure"};
  if (near(value, overload)) return no_reading{"overload: set a higher range"};
  if (std::abs(value) > beyond_any_meter) return no_reading{shown(whole) + " is beyond what any meter reads"};
  return value;
}

}  // namespace rewound::tool::dialogue
