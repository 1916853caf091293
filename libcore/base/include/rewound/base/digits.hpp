// SPDX-License-Identifier: MIT
#pragma once

#include <array>
#include <charconv>
#include <cmath>
#include <string>

// Numbers as text, the same in every locale: printf and std::to_string take the decimal mark of the host's.
namespace rewound::base {

/// As printf's %.<digits>g.
inline std::string general_digits(double value, int digits) {
  std::array<char, 64> text{};
  const auto end = std::to_chars(text.data(), text.data() + text.size(), value, std::chars_format::general, digits).ptr;
  return {text.data(), end};
}

/// As printf's %.<decimals>f.
inline std::string fixed_digits(double value, int decimals) {
  std::array<char, 400> text{};  // 1e308 has 309 digits before the point
  const auto end = std::to_chars(text.data(), text.data() + text.size(), value, std::chars_format::fixed, decimals).ptr;
  return {text.data(), end};
}

/// The same with a sign before it, + as well.
inline std::string signed_digits(double value, int decimals) {
  return (std::signbit(value) ? "" : "+") + fixed_digits(value, decimals);
}

}  // namespace rewound::base
