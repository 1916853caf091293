// SPDX-License-Identifier: MIT
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include <rewound/base/error.hpp>
#include <rewound/record/key_table.hpp>
#include <rewound/record/record.hpp>

// What is known of the machine and the visit, by the record's own list of keys: its names, sentences, examples and
// ranges are those that a person is told at the bench.
namespace rewound::tool::dialogue {

/// A key of any section by its path, "machine.rated_voltage_V" or "run_up.current_A"; null for what is none.
const record::listed_key* key_at(std::string_view path);

/// "rated voltage, V": a key's name as it is said.
std::string key_words(const record::listed_key& key);

/// "rated voltage, V: as marked; a voltage above 0 and up to 100000 V; as 230".
std::string key_explained(const record::listed_key& key);

/// An error as a person at the bench is told it: the key by its words, without the line of a file that is not seen.
std::string error_words(const base::error& trouble);

/// A fact's key at the head of what was typed, `rated voltage 240` or `rated_voltage_V 240`, and what stands behind it.
struct fact_typed {
  const record::listed_key* key = nullptr;
  std::string value;
};
/// @throws base::error (unknown_key) where no fact is named
fact_typed fact_named(std::string_view text);

/// Facts as typed, by their paths; an empty text takes the fact out.
using typed_facts = std::vector<std::pair<std::string, std::string>>;

/// The record with these facts. @throws base::error of the record's own reader, or for what is no value of the key
record::visit_record with_facts(const record::visit_record& in, const typed_facts& facts);

/// A fact of the record as it would be typed; empty where it is not stated.
std::string fact_text(const record::visit_record& in, const record::listed_key& key);

/// "rated voltage, V: 230", one line a fact that is stated.
std::vector<std::string> facts_stated(const record::visit_record& in);

}  // namespace rewound::tool::dialogue
