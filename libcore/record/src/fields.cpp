// SPDX-License-Identifier: MIT
#include <rewound/base/number_text.hpp>
#include <rewound/record/fields.hpp>

#include <algorithm>
#include <chrono>
#include <cmath>
#include <cstdio>
#include <numeric>

namespace rewound::record {

using base::error;
using base::error_code;

namespace {

std::size_t edit_distance(const std::string& a, const std::string& b) {
  std::vector<std::size_t> row(b.size() + 1);
  std::iota(row.begin(), row.end(), std::size_t{0});
  for (std::size_t i = 1; i <= a.size(); ++i) {
    std::size_t diagonal = row[0];
    row[0] = i;
    for (std::size_t j = 1; j <= b.size(); ++j) {
      const std::size_t changed = diagonal + (a[i - 1] == b[j - 1] ? 0 : 1);
      diagonal = row[j];
      row[j] = std::min({row[j] + 1, row[j - 1] + 1, changed});
    }
  }
  return row.back();
}

std::string joined(const std::vector<const char*>& words) {
  std::string out;
  for (const char* word : words) out += (out.empty() ? "" : ", ") + std::string(word);
  return out;
}

std::string file_of(const node& value) { return value.file ? *value.file : std::string(); }

const double* as_number(const node& value, double& room) {
  if (const auto* number = std::get_if<double>(&value.value)) return number;
  if (const auto* whole = std::get_if<std::int64_t>(&value.value)) {
    room = static_cast<double>(*whole);
    return &room;
  }
  return nullptr;
}

}  // namespace

std::string shown_number(double value) { return base::general_digits(value, 10); }

std::optional<std::string> nearest(const std::string& word, const std::vector<std::string>& known) {
  // A suggestion must not be worse than none: one slip in four letters, or another ending of the same beginning.
  constexpr std::size_t same_beginning = 4;
  constexpr std::size_t ending = 2;
  std::optional<std::string> best;
  std::size_t best_distance = word.size();
  for (const auto& candidate : known) {
    const bool related = word.size() > same_beginning && candidate.starts_with(word.substr(0, same_beginning));
    const auto farthest = std::max<std::size_t>(word.size() / 4, related ? ending : 1);
    const auto distance = edit_distance(word, candidate);
    if (distance > farthest || (best && distance >= best_distance)) continue;
    best_distance = distance;
    best = candidate;
  }
  return best;
}

fields::fields(const node& table, std::string path) : table_(&table), path_(std::move(path)) {
  if (std::get_if<node_table>(&table.value) == nullptr)
    throw error(error_code::wrong_type, {file_of(table), table.line, path_}, text_of(table), "a table");
}

std::string fields::path_of(const std::string& key) const { return path_.empty() ? key : path_ + "." + key; }

base::place fields::at(const node& found, const std::string& field) const {
  return {file_of(found).empty() ? file_of(*table_) : file_of(found), found.line, field};
}

base::place fields::place() const { return at(*table_, path_); }

base::place fields::place_of(const char* key) const {
  for (const auto& [name, value] : std::get<node_table>(table_->value))
    if (name == key) return at(value, path_of(key));
  return at(*table_, path_of(key));
}

const node* fields::find(const char* key) {
  if (std::find(known_.begin(), known_.end(), key) == known_.end()) known_.emplace_back(key);
  for (const auto& [name, value] : std::get<node_table>(table_->value))
    if (name == key) return &value;
  return nullptr;
}

bool fields::has(const char* key) const {
  for (const auto& [name, value] : std::get<node_table>(table_->value))
    if (name == key) return true;
  return false;
}

bool fields::holds_table(const char* key) const {
  for (const auto& [name, value] : std::get<node_table>(table_->value))
    if (name == key) return std::get_if<node_table>(&value.value) != nullptr;
  return false;
}

void fields::require(const char* key) {
  if (find(key) != nullptr) return;
  // A required key that is merely misspelt should be reported as that, not as missing.
  std::vector<std::string> unasked;
  for (const auto& [name, value] : std::get<node_table>(table_->value))
    if (std::find(known_.begin(), known_.end(), name) == known_.end()) unasked.push_back(name);
  const std::string wanted = key;
  for (const auto& name : unasked)
    if (edit_distance(wanted, name) <= std::max<std::size_t>(2, wanted.size() / 4))
      throw error(error_code::unknown_key, place_of(name.c_str()), "a key that this table does not have",
                  "did you mean " + wanted + "?");
  throw error(error_code::missing_key, at(*table_, path_of(key)), "nothing", "a value: this key is required");
}

std::string fields::word_of(const node& found, const char* key) const {
  if (const auto* text = std::get_if<std::string>(&found.value)) return *text;
  throw error(error_code::wrong_type, at(found, path_of(key)), text_of(found), "a text");
}

void fields::refuse_choice(const node& found, const char* key, const std::vector<const char*>& words) const {
  throw error(error_code::not_a_choice, at(found, path_of(key)), text_of(found), "one of " + joined(words));
}

double fields::checked(const node& found, const std::string& field, const range& allowed) const {
  double room = 0.0;
  const double* number = as_number(found, room);
  if (number == nullptr) throw error(error_code::wrong_type, at(found, field), text_of(found), allowed.words);
  const bool inside = std::isfinite(*number) && *number <= allowed.high &&
                      (allowed.low_open ? *number > allowed.low : *number >= allowed.low) &&
                      (*number == 0.0 || std::abs(*number) >= allowed.smallest);
  if (!inside) throw error(error_code::out_of_range, at(found, field), text_of(found), allowed.words);
  return *number;
}

int fields::checked_whole(const node& found, const char* key, int low, int high) const {
  const std::string words = "a whole number from " + std::to_string(low) + " to " + std::to_string(high);
  double room = 0.0;
  const double* number = as_number(found, room);
  if (number == nullptr) throw error(error_code::wrong_type, at(found, path_of(key)), text_of(found), words);
  if (!(*number >= low && *number <= high) || std::floor(*number) != *number)
    throw error(error_code::out_of_range, at(found, path_of(key)), text_of(found), words);
  return static_cast<int>(*number);
}

std::vector<double> fields::checked_list(const node& found, const std::string& field, const range& allowed) const {
  const auto* list = std::get_if<node_list>(&found.value);
  if (list == nullptr) throw error(error_code::wrong_type, at(found, field), text_of(found), "a list of numbers");
  std::vector<double> out;
  for (const auto& item : *list) out.push_back(checked(item, field + "[" + std::to_string(out.size()) + "]", allowed));
  return out;
}

std::string fields::text(const char* key) {
  require(key);
  return *optional_text(key);
}

void fields::expect_format(const char* format) {
  const auto read = optional_text("format");
  if (read != format)
    throw error(error_code::unknown_format, place_of("format"), read ? "\"" + *read + "\"" : "nothing",
                std::string("format = \"") + format + "\"");
}

std::optional<std::string> fields::optional_text(const char* key) {
  const node* found = find(key);
  if (found == nullptr) return std::nullopt;
  auto word = word_of(*found, key);
  if (word.empty()) throw error(error_code::out_of_range, at(*found, path_of(key)), "an empty text", "a text");
  return word;
}

std::optional<std::string> fields::optional_any_text(const char* key) {
  const node* found = find(key);
  if (found == nullptr) return std::nullopt;
  return word_of(*found, key);
}

double fields::number(const char* key, const range& allowed) {
  require(key);
  return *optional_number(key, allowed);
}

std::optional<double> fields::optional_number(const char* key, const range& allowed) {
  const node* found = find(key);
  if (found == nullptr) return std::nullopt;
  return checked(*found, path_of(key), allowed);
}

int fields::whole(const char* key, int low, int high) {
  require(key);
  return *optional_whole(key, low, high);
}

std::optional<int> fields::optional_whole(const char* key, int low, int high) {
  const node* found = find(key);
  if (found == nullptr) return std::nullopt;
  return checked_whole(*found, key, low, high);
}

std::optional<bool> fields::optional_flag(const char* key) {
  const node* found = find(key);
  if (found == nullptr) return std::nullopt;
  if (const auto* flag = std::get_if<bool>(&found->value)) return *flag;
  throw error(error_code::wrong_type, at(*found, path_of(key)), text_of(*found), "true or false");
}

date fields::day(const char* key) {
  require(key);
  const node* found = find(key);
  date out;
  const auto* text = std::get_if<std::string>(&found->value);
  if (const auto* written = std::get_if<date>(&found->value)) out = *written;
  else if (text == nullptr || std::sscanf(text->c_str(), "%4d-%2d-%2d", &out.year, &out.month, &out.day) != 3 ||
           out.iso() != *text)
    throw error(error_code::wrong_type, at(*found, path_of(key)), text_of(*found), "a date such as 2026-05-14");
  const std::chrono::year_month_day calendar{std::chrono::year(out.year),
                                             std::chrono::month(static_cast<unsigned>(out.month)),
                                             std::chrono::day(static_cast<unsigned>(out.day))};
  if (!calendar.ok())
    throw error(error_code::out_of_range, at(*found, path_of(key)), text_of(*found), "a day of the calendar");
  return out;
}

std::vector<double> fields::numbers(const char* key, const range& allowed) {
  require(key);
  auto out = optional_numbers(key, allowed);
  if (out.empty()) throw error(error_code::empty_list, place_of(key), "an empty list", "at least one reading");
  return out;
}

std::vector<double> fields::optional_numbers(const char* key, const range& allowed) {
  const node* found = find(key);
  if (found == nullptr) return {};
  return checked_list(*found, path_of(key), allowed);
}

std::vector<std::vector<double>> fields::number_lists(const char* key, const range& allowed) {
  require(key);
  const node* found = find(key);
  const auto* list = std::get_if<node_list>(&found->value);
  if (list == nullptr)
    throw error(error_code::wrong_type, at(*found, path_of(key)), text_of(*found), "a list of lists of numbers");
  std::vector<std::vector<double>> out;
  for (const auto& item : *list)
    out.push_back(checked_list(item, path_of(key) + "[" + std::to_string(out.size()) + "]", allowed));
  return out;
}

std::vector<bool> fields::optional_flags(const char* key) {
  const node* found = find(key);
  if (found == nullptr) return {};
  const auto* list = std::get_if<node_list>(&found->value);
  if (list == nullptr)
    throw error(error_code::wrong_type, at(*found, path_of(key)), text_of(*found), "a list of true or false");
  std::vector<bool> out;
  for (const auto& item : *list) {
    const auto* flag = std::get_if<bool>(&item.value);
    if (flag == nullptr)
      throw error(error_code::wrong_type, at(item, path_of(key) + "[" + std::to_string(out.size()) + "]"),
                  text_of(item), "true or false");
    out.push_back(*flag);
  }
  return out;
}

std::vector<std::string> fields::texts(const char* key) {
  require(key);
  auto out = optional_texts(key);
  if (out.empty()) throw error(error_code::empty_list, place_of(key), "an empty list", "at least one text");
  return out;
}

std::vector<std::string> fields::optional_texts(const char* key) {
  const node* found = find(key);
  if (found == nullptr) return {};
  const auto* list = std::get_if<node_list>(&found->value);
  if (list == nullptr)
    throw error(error_code::wrong_type, at(*found, path_of(key)), text_of(*found), "a list of texts");
  std::vector<std::string> out;
  for (const auto& item : *list) {
    const auto* text = std::get_if<std::string>(&item.value);
    const std::string field = path_of(key) + "[" + std::to_string(out.size()) + "]";
    if (text == nullptr || text->empty())
      throw error(error_code::wrong_type, at(item, field), text_of(item), "a text that is not empty");
    out.push_back(*text);
  }
  return out;
}

std::vector<std::pair<std::string, bool>> fields::free_flags() {
  std::vector<std::pair<std::string, bool>> out;
  for (const auto& [name, value] : std::get<node_table>(table_->value)) {
    const auto* flag = std::get_if<bool>(&value.value);
    if (flag == nullptr) throw error(error_code::wrong_type, at(value, path_of(name)), text_of(value), "true or false");
    known_.push_back(name);
    out.emplace_back(name, *flag);
  }
  return out;
}

std::optional<fields> fields::optional_table(const char* key) {
  const node* found = find(key);
  if (found == nullptr) return std::nullopt;
  return fields(*found, path_of(key));
}

fields fields::table(const char* key) {
  require(key);
  return *optional_table(key);
}

std::vector<fields> fields::tables(const char* key) {
  const node* found = find(key);
  if (found == nullptr) return {};
  const auto* list = std::get_if<node_list>(&found->value);
  if (list == nullptr)
    throw error(error_code::wrong_type, at(*found, path_of(key)), text_of(*found),
                "a list of tables, written [[" + path_of(key) + "]]");
  std::vector<fields> out;
  for (const auto& item : *list) out.emplace_back(item, path_of(key) + "[" + std::to_string(out.size()) + "]");
  return out;
}

std::vector<std::pair<std::string, fields>> fields::member_tables() {
  std::vector<std::pair<std::string, fields>> out;
  for (const auto& [name, value] : std::get<node_table>(table_->value)) {
    known_.push_back(name);
    out.emplace_back(name, fields(value, path_of(name)));
  }
  return out;
}

void fields::finish() const {
  for (const auto& [name, value] : std::get<node_table>(table_->value)) {
    if (std::find(known_.begin(), known_.end(), name) != known_.end()) continue;
    const auto meant = nearest(name, known_);
    std::string allowed;
    if (meant) allowed = "did you mean " + *meant + "?";
    else
      for (const auto& key : known_) allowed += (allowed.empty() ? "" : ", ") + key;
    throw error(error_code::unknown_key, at(value, path_of(name)), "a key that this table does not have", allowed);
  }
}

}  // namespace rewound::record
