// SPDX-License-Identifier: MIT
#include "dialogue/meters/scpi.hpp"

#include <charconv>
#include <cmath>

namespace rewound::tool::dialogue {

namespace {

constexpr double overload = 9.9e37;
constexpr double not_a_number = 9.91e37;

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

bool near(double value, double code) { return std::abs(std::abs(value) / code - 1.0) < 1e-6; }

}  // namespace

std::variant<double, no_reading> scpi_answer(std::string_view text) {
  const auto whole = trimmed(text);
  auto word = trimmed(whole.substr(0, whole.find(',')));
  if (word.starts_with('+')) word.remove_prefix(1);
  if (word.empty()) return no_reading{"an empty answer"};
  double value = 0.0;
  const auto [end, code] = std::from_chars(word.data(), word.data() + word.size(), value);
  if (code != std::errc() || end != word.data() + word.size() || !std::isfinite(value))
    return no_reading{shown(whole) + " is no number"};
  if (near(value, not_a_number)) return no_reading{"not a number: the instrument could not measure"};
  if (near(value, overload)) return no_reading{"overload: set a higher range"};
  return value;
}

}  // namespace rewound::tool::dialogue
