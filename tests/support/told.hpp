// SPDX-License-Identifier: MIT
#pragma once

#include <limits>
#include <string_view>
#include <vector>

#include <rewound/verdict/finding.hpp>

// What a finding tells besides its own value, and which findings there are.
namespace rewound::testing {

/// A number of a finding; not a number where it has none of that key, so that every comparison fails.
inline verdict::mentioned told_number(const verdict::finding& f, std::string_view key) {
  for (const auto& each : f.numbers)
    if (each.key == key) return each;
  return {"", std::numeric_limits<double>::quiet_NaN(), std::numeric_limits<double>::quiet_NaN()};
}

/// A text of a finding; "(none)" where it has none of that key.
inline std::string_view told_text(const verdict::finding& f, std::string_view key) {
  for (const auto& [name, value] : f.texts)
    if (name == key) return value;
  return "(none)";
}

/// The first finding that says so; null where none does.
inline const verdict::finding* saying(const std::vector<verdict::finding>& all, verdict::statement says) {
  for (const auto& f : all)
    if (f.says == says) return &f;
  return nullptr;
}

}  // namespace rewound::testing
