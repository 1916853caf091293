// SPDX-License-Identifier: MIT
#pragma once

#include <cstdint>
#include <initializer_list>
#include <optional>
#include <span>
#include <string>
#include <utility>
#include <vector>

#include <rewound/base/error.hpp>
#include <rewound/record/document.hpp>
#include <rewound/record/range.hpp>

namespace rewound::record {

/// Reads the keys of one table. Each call names a key, says what it may hold and remembers it; finish() then
/// refuses every key that no call asked for, and suggests the nearest one.
class fields {
 public:
  fields(const node& table, std::string path);

  bool has(const char* key) const;
  bool holds_table(const char* key) const;  ///< there, and a table

  /// @throws base::error unknown_format unless the key "format" holds this
  void expect_format(const char* format);

  std::string text(const char* key);
  std::optional<std::string> optional_text(const char* key);
  std::optional<std::string> optional_any_text(const char* key);  ///< may be empty
  void skip(const char* key) { find(key); }                       ///< known, but not read
  double number(const char* key, const range& allowed);
  std::optional<double> optional_number(const char* key, const range& allowed);
  int whole(const char* key, int low, int high);
  std::optional<int> optional_whole(const char* key, int low, int high);
  std::optional<bool> optional_flag(const char* key);
  date day(const char* key);
  std::vector<double> numbers(const char* key, const range& allowed);           ///< required
  std::vector<double> optional_numbers(const char* key, const range& allowed);  ///< empty when absent
  std::vector<std::vector<double>> number_lists(const char* key, const range& allowed);
  std::vector<bool> optional_flags(const char* key);
  std::vector<std::string> texts(const char* key);
  std::vector<std::string> optional_texts(const char* key);
  std::vector<std::pair<std::string, bool>> free_flags();  ///< every key of the table, true or false

  /// A word out of a list, as the value that stands for it.
  template <class Value>
  std::optional<Value> optional_choice(const char* key, std::span<const std::pair<const char*, Value>> choices) {
    const node* found = find(key);
    if (found == nullptr) return std::nullopt;
    const auto word = word_of(*found, key);
    std::vector<const char*> words;
    for (const auto& [name, value] : choices) {
      if (word == name) return value;
      words.push_back(name);
    }
    refuse_choice(*found, key, words);
  }

  template <class Value>
  std::optional<Value> optional_choice(const char* key, std::initializer_list<std::pair<const char*, Value>> choices) {
    return optional_choice<Value>(key, std::span(choices.begin(), choices.size()));
  }

  /// The same, required; `choices` as optional_choice() takes them.
  template <class Value, class Choices = std::initializer_list<std::pair<const char*, Value>>>
  Value choice(const char* key, const Choices& choices) {
    require(key);
    return *optional_choice<Value>(key, choices);
  }

  std::optional<fields> optional_table(const char* key);
  fields table(const char* key);
  std::vector<fields> tables(const char* key);  ///< array of tables; empty when absent
  std::vector<std::pair<std::string, fields>> member_tables();

  /// @throws base::error unknown_key for the first key that was never asked for
  void finish() const;

  /// Where `key` stands, for errors of the caller's own.
  base::place place_of(const char* key) const;
  base::place place() const;

 private:
  const node* find(const char* key);
  void require(const char* key);
  std::string word_of(const node& found, const char* key) const;
  [[noreturn]] void refuse_choice(const node& found, const char* key, const std::vector<const char*>& words) const;
  double checked(const node& found, const std::string& field, const range& allowed) const;
  int checked_whole(const node& found, const char* key, int low, int high) const;
  std::vector<double> checked_list(const node& found, const std::string& field, const range& allowed) const;
  base::place at(const node& found, const std::string& field) const;
  std::string path_of(const std::string& key) const;

  const node* table_;
  std::string path_;
  std::vector<std::string> known_;
};

/// A number as a person writes it, for errors.
std::string shown_number(double value);

/// The word of `known` with the fewest changed letters, when it is near enough to be meant.
std::optional<std::string> nearest(const std::string& word, const std::vector<std::string>& known);

}  // namespace rewound::record
