// SPDX-License-Identifier: MIT
#include "typed_record.hpp"

#include <algorithm>
#include <cmath>
#include <cstdlib>
#include <map>
#include <optional>
#include <utility>

#include <rewound/base/error.hpp>
#include <rewound/base/number_text.hpp>
#include <rewound/record/document.hpp>
#include <rewound/record/key_table.hpp>
#include <rewound/record/words.hpp>

namespace rewound::page {

namespace {

using record::key_kind;
using record::listed_key;
using record::node;
using record::node_list;
using record::node_table;

/// The keys of instruments are listed once, under the first of them.
std::string listed_section_of(const std::string& section) {
  return section.starts_with("instruments.") ? std::string("instruments.") + record::words::instruments.front()
                                             : section;
}

std::vector<const listed_key*> keys_of(const std::string& section) {
  std::vector<const listed_key*> out;
  for (const auto& key : record::listed_keys())
    if (key.section == listed_section_of(section)) out.push_back(&key);
  return out;
}

std::string trimmed(const std::string& text) {
  const auto first = text.find_first_not_of(" \t\r\n");
  if (first == std::string::npos) return "";
  return text.substr(first, text.find_last_not_of(" \t\r\n") - first + 1);
}

/// With a decimal point or a decimal comma.
std::optional<double> number_typed(std::string text) {
  if (std::count(text.begin(), text.end(), ',') == 1 && text.find('.') == std::string::npos) text[text.find(',')] = '.';
  if (text.starts_with('.')) text.insert(0, "0");
  if (text.ends_with('.')) text.pop_back();
  return base::whole_number_text(text);
}

/// A number where it is one; otherwise the text, of which the record's reader says what is wrong with it.
node number_node(const std::string& text, bool whole) {
  const auto number = number_typed(text);
  if (!number) return {.value = text};
  if (whole && std::floor(*number) == *number && std::abs(*number) < 1e9)
    return {.value = static_cast<std::int64_t>(*number)};
  return {.value = *number};
}

node date_node(const std::string& text) {
  try {
    const auto document = record::read_toml_text("day = " + text, "");
    return std::get<node_table>(document.value).front().second;
  } catch (const base::error&) {
    return {.value = text};
  }
}

/// Numbers one after another, parted by blanks, semicolons or line ends.
std::vector<std::string> numbers_in(const std::string& text) {
  std::vector<std::string> out;
  std::string word;
  for (const char c : text + " ") {
    const bool between = c == ' ' || c == ';' || c == '\n' || c == '\t' || c == '\r';
    if (!between) word += c;
    else if (!word.empty()) out.push_back(std::exchange(word, ""));
  }
  return out;
}

/// Texts that a page's value holds: one, or several of a list.
std::vector<std::string> texts_in(const json& value) {
  std::vector<std::string> out;
  const auto take = [&](const json& one) {
    if (one.is_string() && !trimmed(one.get<std::string>()).empty()) out.push_back(trimmed(one.get<std::string>()));
  };
  if (value.is_array())
    for (const auto& each : value) take(each);
  else take(value);
  return out;
}

/// A typed value as the document of a record has it; nothing where nothing was typed.
std::optional<node> value_node(const listed_key& key, const json& typed) {
  const auto texts = texts_in(typed);
  if (texts.empty()) return std::nullopt;
  const auto& text = texts.front();
  if (key.by_line && typed.is_array()) {
    if (texts.size() < typed.size()) return std::nullopt;  // not all three lines yet
    node_list out;
    for (const auto& each : texts) out.push_back(number_node(each, false));
    return node{.value = std::move(out)};
  }
  switch (key.kind) {
    case key_kind::number: return number_node(text, false);
    case key_kind::whole_number: return number_node(text, true);
    case key_kind::flag: return text == "true" || text == "false" ? node{.value = text == "true"} : node{.value = text};
    case key_kind::date: return date_node(text);
    case key_kind::texts:
    case key_kind::numbers: {
      node_list out;
      for (const auto& one : texts) {
        if (key.kind == key_kind::texts) out.push_back({.value = one});
        else
          for (const auto& each : numbers_in(one)) out.push_back(number_node(each, false));
      }
      return node{.value = std::move(out)};
    }
    case key_kind::text:
    case key_kind::word: break;
  }
  return node{.value = text};
}

/// The document made of what was typed, and where its parts came from.
class document_maker {
 public:
  node_table document;
  std::vector<field_place> missing;
  std::vector<field_place> unfinished;
  std::map<std::string, std::vector<int>> entries;               ///< of a section: the page's, by place in the document
  std::map<std::pair<std::string, int>, std::vector<int>> rows;  ///< of an entry of the document

  explicit document_maker(const json& typed) {
    document.emplace_back("format", node{.value = std::string(record::words::record_format)});
    for (const auto& section : record::listed_sections()) add(section, typed);
    const auto run = std::find_if(document.begin(), document.end(), [](const auto& e) { return e.first == "run_up"; });
    if (run == document.end()) document.emplace_back("run_up", node{.value = node_list()});
  }

 private:
  void add(const record::listed_section& section, const json& typed) {
    if (section.name.starts_with("instruments.")) return add_instruments(typed);
    if (!typed.contains(section.name)) {
      if (section.name == "machine" || section.name == "visit") find_missing(section.name, json::object());
      return;
    }
    const auto& there = typed[section.name];
    if (section.name == "checks") return add_checks(there);
    if (section.heading.starts_with("[[")) return add_list(section.name, there);
    if (!there.is_object()) return;
    const bool always = section.name == "machine" || section.name == "visit";
    if (always) find_missing(section.name, there);
    auto table = table_of(section.name, there);
    if (table || always) document.emplace_back(section.name, node{.value = table ? std::move(*table) : node_table()});
  }

  void find_missing(const std::string& section, const json& there) {
    for (const auto* key : keys_of(section))
      if (key->needed && (!there.contains(key->name) || texts_in(there[key->name]).empty()))
        missing.push_back({section, -1, -1, key->name});
  }

  /// Whether something was read for a table, or stands in it by habit alone.
  static bool begun(const std::string& section, const json& there) {
    if (there.contains("rows") && !there["rows"].empty()) return true;
    const auto keys = keys_of(section);
    return std::any_of(keys.begin(), keys.end(), [&](const auto* key) {
      const bool number = key->kind == key_kind::number || key->kind == key_kind::whole_number;
      return number && !key->name.ends_with("_C") && there.contains(key->name) && !texts_in(there[key->name]).empty();
    });
  }

  void add_instruments(const json& typed) {
    if (!typed.contains("instruments") || !typed["instruments"].is_object()) return;
    node_table meters;
    for (const auto& [name, there] : typed["instruments"].items())
      if (there.is_object())
        if (auto table = table_of("instruments." + name, there))
          meters.emplace_back(name, node{.value = std::move(*table)});
    if (!meters.empty()) document.emplace_back("instruments", node{.value = std::move(meters)});
  }

  void add_checks(const json& there) {
    node_table out;
    if (!there.is_object()) return;
    for (const auto& [name, value] : there.items())
      if (value == "true" || value == "false") out.emplace_back(name, node{.value = value == "true"});
    if (!out.empty()) document.emplace_back("checks", node{.value = std::move(out)});
  }

  void add_list(const std::string& section, const json& there) {
    if (!there.is_array()) return;
    node_list out;
    for (std::size_t i = 0; i < there.size(); ++i) {
      if (!there[i].is_object()) continue;
      auto table = table_of(section, there[i], static_cast<int>(out.size()), static_cast<int>(i));
      if (!table) continue;
      out.push_back({.value = std::move(*table)});
      entries[section].push_back(static_cast<int>(i));
    }
    if (!out.empty()) document.emplace_back(section, node{.value = std::move(out)});
  }

  /// Nothing while something is missing that the table needs, or nothing was typed.
  ///
  /// @param place       in the document's list
  /// @param page_entry  in the page's
  std::optional<node_table> table_of(const std::string& section, const json& there, int place = -1,
                                     int page_entry = -1) {
    node_table out;
    std::vector<std::string> lacks;
    bool needs_rows = false;
    for (const auto* key : keys_of(section)) {
      needs_rows = needs_rows || (key->of_row && key->needed);
      if (key->of_row) continue;
      auto value = there.contains(key->name) ? value_node(*key, there[key->name]) : std::nullopt;
      if (value) out.emplace_back(key->name, std::move(*value));
      else if (key->needed && section != "machine" && section != "visit") lacks.push_back(key->name);
    }
    if (!lacks.empty()) {
      if (begun(section, there))
        for (auto& name : lacks) unfinished.push_back({section, page_entry, -1, std::move(name)});
      return std::nullopt;
    }
    if (needs_rows) {
      auto readings = rows_of(section, there, place);
      if (readings.empty()) return std::nullopt;
      out.emplace_back("rows", node{.value = std::move(readings)});
    }
    if (out.empty()) return std::nullopt;
    return out;
  }

  node_list rows_of(const std::string& section, const json& there, int place) {
    node_list out;
    auto& from = rows[{section, place}];
    from.clear();
    if (!there.contains("rows") || !there["rows"].is_array()) return out;
    for (std::size_t i = 0; i < there["rows"].size(); ++i) {
      const auto& typed = there["rows"][i];
      if (!typed.is_object()) continue;
      node_table row;
      bool whole = true;
      for (const auto* key : keys_of(section)) {
        if (!key->of_row && !key->row_only) continue;
        auto value = typed.contains(key->name) ? value_node(*key, typed[key->name]) : std::nullopt;
        if (value) row.emplace_back(key->name, std::move(*value));
        else if (key->needed) whole = false;
      }
      if (!whole) continue;
      out.push_back({.value = std::move(row)});
      from.push_back(static_cast<int>(i));
    }
    return out;
  }
};

/// One step of a path taken apart: "current_A[2]".
struct path_step {
  std::string name;
  std::optional<int> place;
};

std::vector<path_step> steps_of(const std::string& path) {
  std::vector<path_step> out;
  std::size_t at = 0;
  while (at <= path.size() && !path.empty()) {
    const auto dot = std::min(path.find('.', at), path.size());
    const auto text = path.substr(at, dot - at);
    const auto open = text.find('[');
    // Of three lines the last place is the reading's.
    const auto last = text.rfind('[');
    out.push_back({text.substr(0, open), std::nullopt});
    if (open != std::string::npos) out.back().place = std::atoi(text.c_str() + last + 1);
    if (dot == path.size()) break;
    at = dot + 1;
  }
  return out;
}

/// Where the page has what an error speaks of.
field_place place_in_page(const std::string& path, const document_maker& made) {
  const auto steps = steps_of(path);
  field_place out;
  if (steps.empty()) return out;
  out.section = steps[0].name;
  std::size_t next = 1;
  if (out.section == "instruments" && steps.size() > 1) out.section += "." + steps[next++].name;
  if (steps[0].place) {
    const auto entries = made.entries.find(out.section);
    const auto at = static_cast<std::size_t>(*steps[0].place);
    if (entries != made.entries.end() && at < entries->second.size()) out.entry = entries->second[at];
  }
  std::optional<int> reading;
  for (; next < steps.size(); ++next) {
    if (steps[next].name != "rows") out.key = steps[next].name;
    if (steps[next].place) reading = steps[next].place;
  }
  if (!reading) return out;
  const auto rows = made.rows.find({out.section, steps[0].place.value_or(-1)});
  const auto at = static_cast<std::size_t>(*reading);
  if (rows != made.rows.end() && at < rows->second.size()) out.row = rows->second[at];
  return out;
}

bool needed(const field_place& where) {
  const auto keys = keys_of(where.section);
  return std::any_of(keys.begin(), keys.end(), [&](const auto* key) { return key->name == where.key && key->needed; });
}

/// Takes a value out of what was typed, with its reading or its table where these cannot be without it.
///
/// @return false where nothing could be taken out
bool left_out(json& typed, const field_place& where) {
  json* table = nullptr;
  if (where.section.starts_with("instruments.")) {
    auto& meters = typed["instruments"];
    return meters.erase(where.section.substr(where.section.find('.') + 1)) > 0;
  }
  if (!typed.contains(where.section)) return false;
  auto& section = typed[where.section];
  if (where.entry >= 0 && section.is_array() && static_cast<std::size_t>(where.entry) < section.size())
    table = &section[static_cast<std::size_t>(where.entry)];
  else if (section.is_object()) table = &section;
  if (table == nullptr || table->is_null()) return false;
  if (where.row >= 0 && table->contains("rows")) {
    auto& row = (*table)["rows"][static_cast<std::size_t>(where.row)];
    if (row.is_null()) return false;
    if (!needed(where) && row.contains(where.key)) return row.erase(where.key) > 0;
    row = nullptr;  // places of the others stay
    return true;
  }
  if (!needed(where) && table->contains(where.key)) return table->erase(where.key) > 0;
  if (where.section == "machine" || where.section == "visit") return false;
  *table = nullptr;
  if (where.entry < 0) typed.erase(where.section);
  return true;
}

std::vector<run_up_place> run_up_places(const json& typed, const document_maker& made) {
  std::vector<run_up_place> out;
  const auto entries = made.entries.find("run_up");
  if (entries == made.entries.end()) return out;
  for (std::size_t i = 0; i < entries->second.size(); ++i) {
    const auto entry = entries->second[i];
    if (typed["run_up"][static_cast<std::size_t>(entry)].value("leads", "").starts_with("rolled")) continue;
    out.push_back({entry, made.rows.at({"run_up", static_cast<int>(i)})});
  }
  return out;
}

std::vector<base::error> all_of(const base::error& trouble) {
  if (const auto* several = dynamic_cast<const base::errors*>(&trouble)) return several->all();
  return {trouble};
}

std::string typed_text(const node& value) {
  if (const auto* flag = std::get_if<bool>(&value.value)) return *flag ? "true" : "false";
  if (const auto* whole = std::get_if<std::int64_t>(&value.value)) return std::to_string(*whole);
  if (const auto* number = std::get_if<double>(&value.value)) return base::shortest_text(*number);
  if (const auto* text = std::get_if<std::string>(&value.value)) return *text;
  if (const auto* day = std::get_if<record::date>(&value.value)) return day->iso();
  return "";
}

json texts_of(const node& value) {
  const auto* list = std::get_if<node_list>(&value.value);
  if (list == nullptr) return typed_text(value);
  json out = json::array();
  for (const auto& each : *list) out.push_back(texts_of(each));
  return out;
}

const listed_key* key_named(const std::string& section, const std::string& name) {
  for (const auto* key : keys_of(section))
    if (key->name == name) return key;
  return nullptr;
}

/// The place of a reading in a list of them, or in three of them on three lines.
json reading_of(const node_list& list, std::size_t place) {
  if (!list.empty() && std::holds_alternative<node_list>(list.front().value)) {
    json out = json::array();
    for (const auto& line : list) out.push_back(typed_text(std::get<node_list>(line.value).at(place)));
    return out;
  }
  return typed_text(list.at(place));
}

/// A table of a record's document as the page has it: readings in rows, lists of numbers as one text.
json typed_table(const std::string& section, const node& table) {
  json out = json::object();
  json rows = json::array();
  for (const auto& [name, value] : std::get<node_table>(table.value)) {
    const auto* key = key_named(section, name);
    const auto* list = std::get_if<node_list>(&value.value);
    if (name == "rows" && list != nullptr) {
      for (const auto& row : *list) {
        rows.push_back(json::object());
        for (const auto& [cell, read] : std::get<node_table>(row.value)) rows.back()[cell] = texts_of(read);
      }
    } else if (key != nullptr && key->of_row && list != nullptr) {
      const auto* lines = list->empty() ? nullptr : std::get_if<node_list>(&list->front().value);
      const auto count = lines == nullptr ? list->size() : lines->size();
      for (std::size_t i = 0; i < count; ++i) {
        if (rows.size() <= i) rows.push_back(json::object());
        rows[i][name] = reading_of(*list, i);
      }
    } else if (key != nullptr && key->kind == key_kind::numbers && list != nullptr) {
      std::string text;
      for (const auto& each : *list) text += (text.empty() ? "" : " ") + typed_text(each);
      out[name] = text;
    } else {
      out[name] = texts_of(value);
    }
  }
  if (!rows.empty()) out["rows"] = rows;
  return out;
}

}  // namespace

typed_record record_of_typed(const json& typed) {
  typed_record out;
  json left = typed;
  constexpr int most = 40;  // each turn leaves something out
  for (int turn = 0; turn < most; ++turn) {
    document_maker made(left);
    if (turn == 0) {
      out.missing = made.missing;
      out.unfinished = made.unfinished;
    }
    if (!made.missing.empty()) return out;
    try {
      out.record = record::record_from({.value = std::move(made.document)});
      out.whole = true;
      out.run_up = run_up_places(left, made);
      return out;
    } catch (const base::error& trouble) {
      bool better = false;
      for (const auto& each : all_of(trouble)) {
        const auto where = place_in_page(each.where().field, made);
        out.problems.push_back({where, each.read(), each.allowed()});
        better = left_out(left, where) || better;
      }
      if (!better) return out;
    }
  }
  return out;
}

json typed_of_record(const record::visit_record& in) {
  const auto document = record::read_toml_text(record::record_text(in), "");
  json out = json::object();
  for (const auto& [section, value] : std::get<node_table>(document.value)) {
    if (section == "format") continue;
    if (const auto* list = std::get_if<node_list>(&value.value)) {
      out[section] = json::array();
      for (const auto& each : *list) out[section].push_back(typed_table(section, each));
    } else if (section == "instruments") {
      for (const auto& [name, meter] : std::get<node_table>(value.value))
        out[section][name] = typed_table("instruments." + name, meter);
    } else {
      out[section] = typed_table(section, value);
    }
  }
  return out;
}

}  // namespace rewound::page
