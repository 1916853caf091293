// SPDX-License-Identifier: MIT
#pragma once

#include <cstdint>
#include <string_view>

namespace rewound::base {

inline constexpr std::uint64_t checksum_start = 14695981039346656037ull;

/// FNV-1a (64 bit), from memory: tells torn or altered text, and protects against nobody.
constexpr std::uint64_t checksum_of(std::string_view text, std::uint64_t start = checksum_start) {
  for (const char c : text) start = (start ^ static_cast<unsigned char>(c)) * 1099511628211ull;
  return start;
}

}  // namespace rewound::base
