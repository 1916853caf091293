// SPDX-License-Identifier: MIT
#pragma once

#include <optional>
#include <string>
#include <string_view>

#include <rewound/record/document.hpp>
#include <rewound/record/keys.hpp>

// What a person wrote in a place for a number, a flag or a text: understood, or explained in their own words.
namespace rewound::record {

/// A number, or why it is none.
struct written_number {
  std::optional<double> value;
  std::string why_not;  ///< what to write instead, after what is allowed; may be empty
};

/// The number that a value of a document holds.
///
/// @param key  whose value it is: its unit stands at its end
written_number number_written(const node& value, std::string_view key);

/// ">2000", "over 2000", "OL": beyond the end of a meter's range.
struct beyond_range {
  std::optional<double> at_least;  ///< nothing for OL, which does not say
};
std::optional<beyond_range> beyond_range_written(const node& value);

/// The unit at a key's end, as "A" of current_A; empty where it has none.
std::string_view unit_of(std::string_view key);

/// What to say of a key that a table does not have: the key that is meant, or those that there are.
struct key_advice {
  std::string words;
  std::string meant;  ///< empty where no key is near
};
key_advice known_keys_near(const std::string& key, const std::vector<std::string>& known, const std::string& section);

}  // namespace rewound::record
