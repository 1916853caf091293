// SPDX-License-Identifier: MIT
#pragma once

#include <array>
#include <charconv>
#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <optional>
#include <string>
#include <string_view>

// Numbers as text and back, whatever the machine's language: what std::to_chars and std::from_chars do with doubles,
// for standard libraries that do not have them yet (libc++ 13) as well.
namespace rewound::base {

/// A number at the beginning of a text, and how many characters it takes.
struct number_in_text {
  double value;
  std::size_t length;
};

namespace detail {

/// As std::from_chars reads a decimal number: no blanks, no plus sign, no hexadecimal digits, a decimal point.
inline std::size_t decimal_length(std::string_view text) {
  const auto digits_from = [&](std::size_t at) {
    while (at < text.size() && text[at] >= '0' && text[at] <= '9') ++at;
    return at;
  };
  const std::size_t first = text.starts_with('-') ? 1 : 0;
  auto end = digits_from(first);
  auto digits = end - first;
  if (end < text.size() && text[end] == '.') {
    const auto behind = digits_from(end + 1);
    digits += behind - end - 1;
    if (digits > 0) end = behind;
  }
  if (digits == 0) return 0;
  if (end < text.size() && (text[end] == 'e' || text[end] == 'E')) {
    const auto sign = end + 1 < text.size() && (text[end + 1] == '-' || text[end + 1] == '+') ? 1u : 0u;
    const auto behind = digits_from(end + 1 + sign);
    if (behind > end + 1 + sign) end = behind;
  }
  return end;
}

/// The same by the C library, whose decimal point is a point as long as nobody sets a locale.
inline std::optional<number_in_text> number_by_c(std::string_view text) {
  const auto length = decimal_length(text);
  if (length == 0) return std::nullopt;
  const double value = std::strtod(std::string(text.substr(0, length)).c_str(), nullptr);
  if (std::isinf(value)) return std::nullopt;
  return number_in_text{value, length};
}

/// The fewest digits that give the same number again, in the shorter of the two ways to write them, as std::to_chars.
inline std::string shortest_by_c(double value) {
  if (!std::isfinite(value)) return std::isnan(value) ? "nan" : value < 0.0 ? "-inf" : "inf";
  char text[400];
  int digits = 0;
  constexpr int enough = 16;  // behind the point
  for (;; ++digits) {
    std::snprintf(text, sizeof text, "%.*e", digits, value);
    if (digits == enough || std::strtod(text, nullptr) == value) break;
  }
  const std::string scientific = text;
  const int exponent = std::atoi(text + scientific.find('e') + 1);
  std::snprintf(text, sizeof text, "%.*f", digits > exponent ? digits - exponent : 0, value);
  const std::string fixed = text;
  return fixed.size() <= scientific.size() ? fixed : scientific;
}

}  // namespace detail

/// The number that a text begins with; nothing where it begins with none, or with one that no double holds. Words for
/// what is no number (inf, nan) are read where the standard library does it.
inline std::optional<number_in_text> number_at_start(std::string_view text) {
#ifdef __cpp_lib_to_chars
  double value = 0.0;
  const auto [end, trouble] = std::from_chars(text.data(), text.data() + text.size(), value);
  if (trouble != std::errc()) return std::nullopt;
  return number_in_text{value, static_cast<std::size_t>(end - text.data())};
#else
  return detail::number_by_c(text);
#endif
}

/// The number that a text is, as a whole.
inline std::optional<double> whole_number_text(std::string_view text) {
  const auto read = number_at_start(text);
  if (!read || read->length != text.size()) return std::nullopt;
  return read->value;
}

/// The fewest digits that give the same number again.
inline std::string shortest_text(double value) {
#ifdef __cpp_lib_to_chars
  char text[32];
  const auto end = std::to_chars(text, text + sizeof text, value).ptr;
  return {text, end};
#else
  return detail::shortest_by_c(value);
#endif
}

/// As printf's %.*g with that many digits.
inline std::string general_digits(double value, int digits) {
#ifdef __cpp_lib_to_chars
  std::array<char, 64> text{};
  const auto end = std::to_chars(text.data(), text.data() + text.size(), value, std::chars_format::general, digits).ptr;
  return {text.data(), end};
#else
  std::array<char, 64> text{};
  std::snprintf(text.data(), text.size(), "%.*g", digits, value);
  return text.data();
#endif
}

/// As printf's %.*f with that many decimals.
inline std::string fixed_digits(double value, int decimals) {
  std::array<char, 400> text{};  // 1e308 has 309 digits before the point
#ifdef __cpp_lib_to_chars
  const auto end = std::to_chars(text.data(), text.data() + text.size(), value, std::chars_format::fixed, decimals).ptr;
  return {text.data(), end};
#else
  std::snprintf(text.data(), text.size(), "%.*f", decimals, value);
  return text.data();
#endif
}

/// The same with a sign before it, + as well.
inline std::string signed_digits(double value, int decimals) {
  return (std::signbit(value) ? "" : "+") + fixed_digits(value, decimals);
}

}  // namespace rewound::base
