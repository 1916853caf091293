// SPDX-License-Identifier: MIT
#include "dialogue/facts/facts.hpp"

#include <algorithm>
#include <cmath>

#include <rewound/report/number_text.hpp>

#include "dialogue/entry/typed_reading.hpp"

namespace rewound::tool::dialogue {

namespace {

using base::error;
using base::error_code;
using record::key_kind;
using record::listed_key;

std::string path_of(const listed_key& key) { return key.section + "." + key.name; }

bool is_fact(const listed_key& key) { return key.section == "machine" || key.section == "visit"; }

/// Small letters, blanks for what joins words.
std::string as_said(std::string_view text) {
  std::string out(text);
  for (char& c : out) {
    if (c >= 'A' && c <= 'Z') c = static_cast<char>(c - 'A' + 'a');
    if (c == '_' || c == ',') c = ' ';
  }
  return out;
}

std::string stem_of(const listed_key& key) {
  return key.unit.empty() ? key.name : key.name.substr(0, key.name.size() - key.unit.size() - 1);
}

std::string unit_words(const std::string& unit) { return unit == "C" ? "degC" : unit == "percent" ? "%" : unit; }

quantity quantity_of(const std::string& unit) {
  constexpr std::pair<std::string_view, quantity> known[] = {
      {"V", quantity::voltage},     {"Hz", quantity::frequency},    {"A", quantity::current},
      {"W", quantity::power},       {"rpm", quantity::rotation},    {"C", quantity::temperature},
      {"mm", quantity::length},     {"percent", quantity::percent}, {"s", quantity::time},
      {"ohm", quantity::resistance}};
  for (const auto& [text, what] : known)
    if (unit == text) return what;
  return quantity::plain;
}

/// Parts of a list: names at blanks and commas, sentences at semicolons.
record::node list_node(const std::string& text, bool sentences) {
  record::node_list out;
  std::string part;
  const auto add = [&] {
    while (part.starts_with(' ')) part.erase(0, 1);
    while (part.ends_with(' ')) part.pop_back();
    if (!part.empty()) out.push_back({.value = std::exchange(part, "")});
  };
  for (const char c : text)
    if (sentences ? c == ';' : c == ' ' || c == ',') add();
    else part += c;
  add();
  return {.value = out};
}

/// A day as the record's file reads it: only digits and dashes get that far.
record::node day_node(const std::string& text, const std::string& path) {
  if (text.empty() || text.find_first_not_of("0123456789-") != std::string::npos)
    throw error(error_code::wrong_type, {"", 0, path}, "\"" + text + "\"", "a date as 2026-05-14");
  try {
    return std::get<record::node_table>(record::read_toml_text("day = " + text, "").value).front().second;
  } catch (const error&) {
    throw error(error_code::out_of_range, {"", 0, path}, text, "a day of the calendar, as 2026-05-14");
  }
}

record::node flag_node(const std::string& text, const std::string& path) {
  if (text == "yes" || text == "y" || text == "true") return {.value = true};
  if (text == "no" || text == "n" || text == "false") return {.value = false};
  throw error(error_code::wrong_type, {"", 0, path}, "\"" + text + "\"", "yes or no");
}

/// One of the key's words, with blanks or underscores, in capitals or not; any other goes to the reader as it is.
record::node word_node(const std::string& text, const listed_key& key) {
  std::string word;
  for (const char c : key.allowed + " ") {
    if (c != ' ') {
      word += c;
      continue;
    }
    if (word == text || as_said(word) == as_said(text)) return {.value = word};
    word.clear();
  }
  return {.value = text};
}

record::node number_node(const std::string& text, const listed_key& key) {
  const double value = parse_number(text, quantity_of(key.unit), key.unit == "mm" ? 1e-3 : 1.0);
  const bool whole = key.kind == key_kind::whole_number && value == std::round(value) && std::abs(value) < 1e9;
  if (whole) return {.value = static_cast<std::int64_t>(value)};
  return {.value = value};
}

record::node node_of(const std::string& text, const listed_key& key) {
  switch (key.kind) {
    case key_kind::text: return {.value = text};
    case key_kind::texts: return list_node(text, key.name == "work" || key.name == "notes");
    case key_kind::number:
    case key_kind::whole_number: return number_node(text, key);
    case key_kind::flag: return flag_node(text, path_of(key));
    case key_kind::date: return day_node(text, path_of(key));
    case key_kind::word: return word_node(text, key);
    case key_kind::numbers: break;  // no fact is a list of numbers
  }
  return {};
}

record::node document_of(const record::visit_record& in) { return record::read_toml_text(record::record_text(in), ""); }

record::node* child(record::node& of, const std::string& name) {
  auto* table = std::get_if<record::node_table>(&of.value);
  if (table == nullptr) return nullptr;
  for (auto& [key, value] : *table)
    if (key == name) return &value;
  return nullptr;
}

void put(record::node& document, const listed_key& key, const std::string& text) {
  auto& table = std::get<record::node_table>(child(document, key.section)->value);
  std::erase_if(table, [&](const auto& each) { return each.first == key.name; });
  if (!text.empty()) table.emplace_back(key.name, node_of(text, key));
}

std::string text_of(const record::node& value, const listed_key& key) {
  if (const auto* flag = std::get_if<bool>(&value.value)) return *flag ? "yes" : "no";
  if (const auto* whole = std::get_if<std::int64_t>(&value.value)) return std::to_string(*whole);
  if (const auto* number = std::get_if<double>(&value.value)) return report::number_text(*number);
  if (const auto* text = std::get_if<std::string>(&value.value)) return *text;
  if (const auto* day = std::get_if<record::date>(&value.value)) return day->iso();
  std::string out;
  if (const auto* list = std::get_if<record::node_list>(&value.value))
    for (const auto& each : *list)
      out += (out.empty() ? "" : key.name == "work" || key.name == "notes" ? "; " : " ") + text_of(each, key);
  return out;
}

}  // namespace

const listed_key* key_at(std::string_view path) {
  for (const auto& key : record::listed_keys())
    if (path.starts_with(key.section) && path.size() == key.section.size() + 1 + key.name.size() &&
        path[key.section.size()] == '.' && path.ends_with(key.name))
      return &key;
  return nullptr;
}

std::string key_words(const listed_key& key) {
  auto words = stem_of(key);
  std::replace(words.begin(), words.end(), '_', ' ');
  return key.unit.empty() ? words : words + ", " + unit_words(key.unit);
}

std::string key_explained(const listed_key& key) {
  auto out = key_words(key) + ": " + key.doc;
  if (key.kind == key_kind::word) out += "; one of " + key.allowed;
  else if (!key.allowed.empty()) out += "; " + key.allowed;
  // The example of a reading is a list of the file's; at the bench one reading is typed at a time.
  return key.of_row || key.kind == key_kind::texts ? out : out + "; as " + key.example;
}

std::string error_words(const error& trouble) {
  if (trouble.code() == error_code::not_toml)
    return error(error_code::out_of_range, {}, "bytes that are no text", "characters in UTF-8").what();
  const auto* key = key_at(trouble.where().field);
  if (key == nullptr)
    return error(trouble.code(), {"", 0, trouble.where().field}, trouble.read(), trouble.allowed()).what();
  auto allowed = trouble.allowed();
  const std::string in_file =
      "as in " + key->name + " = ";  // a line of the file; at the bench its value alone is typed
  if (const auto found = allowed.find(in_file); found != std::string::npos)
    allowed.replace(found, in_file.size(), "as ");
  return error(trouble.code(), {"", 0, key_words(*key)}, trouble.read(), allowed).what();
}

fact_typed fact_named(std::string_view text) {
  const auto said = as_said(text);
  fact_typed out;
  std::size_t longest = 0;
  for (const auto& key : record::listed_keys()) {
    if (!is_fact(key)) continue;
    for (const auto& name : {as_said(key.name), as_said(stem_of(key)), as_said(path_of(key))}) {
      const bool fits = said == name || said.starts_with(name + " ");
      if (!fits || name.size() <= longest) continue;
      longest = name.size();
      out = {&key, std::string(text.substr(std::min(text.size(), name.size() + 1)))};
    }
  }
  if (out.key == nullptr)
    throw error(error_code::unknown_key, {}, "\"" + std::string(text) + "\"",
                "a fact and its value, as `fact poles 4`; `facts` lists them");
  while (out.value.starts_with(' ')) out.value.erase(0, 1);
  return out;
}

record::visit_record with_facts(const record::visit_record& in, const typed_facts& facts) {
  auto document = document_of(in);
  for (const auto& [path, text] : facts) {
    const auto* key = key_at(path);
    if (key == nullptr || !is_fact(*key)) throw error(error_code::unknown_key, {}, path, "a key of the record");
    put(document, *key, text);
  }
  return record::record_from(document);
}

std::string fact_text(const record::visit_record& in, const listed_key& key) {
  auto document = document_of(in);
  auto* section = child(document, key.section);
  const auto* value = section == nullptr ? nullptr : child(*section, key.name);
  return value == nullptr ? "" : text_of(*value, key);
}

std::vector<std::string> facts_stated(const record::visit_record& in) {
  std::vector<std::string> out;
  for (const auto& key : record::listed_keys())
    if (is_fact(key))
      if (const auto text = fact_text(in, key); !text.empty()) out.push_back(key_words(key) + ": " + text);
  return out;
}

}  // namespace rewound::tool::dialogue
