// SPDX-License-Identifier: MIT
#pragma once

#include <optional>
#include <string>

#include <rewound/record/words.hpp>

namespace rewound::verdict::rules::detail {

/// The record's word for a value, which findings and tables of limits use too.
template <class Words, class Value>
std::string word_of(const Words& words, Value value) {
  for (const auto& [word, stands_for] : words)
    if (stands_for == value) return std::string(word);
  return "";
}

inline std::string class_key(const std::optional<record::appliance_class>& value) {
  return value ? "class_" + word_of(record::words::appliance_class, *value) : "unknown";
}

}  // namespace rewound::verdict::rules::detail
