// SPDX-License-Identifier: MIT
#include <rewound/record/record.hpp>

#include <algorithm>
#include <cmath>
#include <deque>
#include <filesystem>
#include <set>
#include <tuple>

#include <rewound/record/fields.hpp>
#include <rewound/record/keys.hpp>
#include <rewound/record/validate.hpp>

#include "lenient_text.hpp"
#include "tables.hpp"
#include "written_values.hpp"

// Reads a document by the list of keys (keys.hpp): kinds of values here, what they may be in validate(). All that is
// wrong is gathered; nothing stops at the first.
namespace rewound::record {

using base::error;
using base::error_code;

namespace {

using members = std::vector<std::pair<std::string_view, const node*>>;

members members_of(const node_table& table) {
  members out;
  for (const auto& [name, value] : table) out.emplace_back(name, &value);
  return out;
}

/// What all sections of one document share while it is read.
struct reading {
  std::vector<problem> found;
  std::optional<double> ohm_full_scale;  ///< what OL of the insulation tester means
  std::optional<double> ampere_full_scale;
  std::set<std::string> spoken_of;                 ///< paths of which nothing more is to be said
  std::map<std::string, std::string> in_document;  ///< which run_up[..] of the file a run_up[..] of the record is

  void add(error_code code, std::string path, std::string read, std::string allowed) {
    found.push_back({code, std::move(path), std::move(read), std::move(allowed)});
  }
};

/// "run_up[0]" of "run_up[0].current_A[2]".
std::string section_of_path(const std::string& path) { return path.substr(0, path.find('.')); }

/// The same path with another section before it, where that is known by another name.
void exchange_section(std::string& path, const std::map<std::string, std::string>& names) {
  const auto section = section_of_path(path);
  if (const auto found = names.find(section); found != names.end()) path.replace(0, section.size(), found->second);
}

/// The names of a section's keys that lists of it may hold, in their order.
class row_keys {
 public:
  std::vector<const char*> names;  ///< of lists
  std::vector<const char*> needed;

  template <class Value>
  void key(const char* name, const Value&, const key_facts& facts) {
    add(name, facts);
  }
  void bounded(const char* name, double, bool, const key_facts& facts) { add(name, facts); }
  void current(const char* name, double, const std::optional<three_lines>&, bool, const key_facts& facts) {
    add(name, facts);
  }
  void lines(const char* name, const std::optional<three_lines>&, const key_facts& facts) { add(name, facts); }

  template <class Row>
  static const row_keys& of() {
    static const row_keys known = [] {
      row_keys out;
      Row row;
      describe(out, row);
      return out;
    }();
    return known;
  }

 private:
  void add(const char* name, const key_facts& facts) {
    if (facts.row_only) return;
    names.push_back(name);
    if (facts.needed) needed.push_back(name);
  }
};

std::string example_of(const char* name, const key_facts& facts) {
  return std::string(", as in ") + name + " = " + facts.example;
}

/// Visits the keys of one table and fills its section.
class key_reader {
 public:
  /// @param row  which row of the section's lists this is, of a table of `rows`
  key_reader(members from, std::string path, reading& to, std::optional<std::size_t> row = {})
      : members_(std::move(from)), path_(std::move(path)), to_(to), row_(row) {}

  template <class Value>
  void key(const char* name, Value& value, const key_facts& facts) {
    if (const auto* found = wanted(name, facts)) take(name, *found, value, facts);
  }

  template <class Value, class Words>
  void word(const char* name, Value& value, const Words& known, const key_facts& facts) {
    const auto* found = wanted(name, facts);
    if (found == nullptr) return;
    std::string listed;
    const auto* text = std::get_if<std::string>(&found->value);
    for (const auto& [known_word, stands_for] : known) {
      if (text != nullptr && *text == known_word) {
        value = stands_for;
        return;
      }
      listed += (listed.empty() ? "" : ", ") + std::string(known_word);
    }
    add(text == nullptr ? error_code::wrong_type : error_code::not_a_choice, name, text_of(*found),
        "one of " + listed + example_of(name, facts));
  }

  void bounded(const char* name, double& value, bool& over_range, const key_facts& facts) {
    if (const auto* found = wanted(name, facts))
      take_bounded(name, *found, value, over_range, facts, to_.ohm_full_scale, 1e-6);
  }

  void current(const char* name, double& mean, std::optional<three_lines>& by_line, bool& over_range,
               const key_facts& facts) {
    const auto* found = wanted(name, facts);
    if (found == nullptr) return;
    if (std::get_if<node_list>(&found->value) == nullptr)
      return take_bounded(name, *found, mean, over_range, facts, to_.ampere_full_scale, 1.0);
    take_lines(name, *found, by_line, facts);
    if (by_line) mean = mean_of(*by_line);
  }

  void lines(const char* name, std::optional<three_lines>& by_line, const key_facts& facts) {
    if (const auto* found = wanted(name, facts)) take_lines(name, *found, by_line, facts);
  }

  template <class Row>
  void rows(std::vector<Row>& rows, const char* leader) {
    const auto* found = find("rows");
    const auto& keys = row_keys::of<Row>();
    if (found == nullptr) return read_lists(rows, leader, keys);
    for (const char* list : keys.names)
      if (find(list) != nullptr) add(error_code::unknown_key, list, "a list beside rows", "rows or lists, not both");
    const auto* list = std::get_if<node_list>(&found->value);
    if (list == nullptr || list->empty())
      return add(list == nullptr ? error_code::wrong_type : error_code::empty_list, "rows", text_of(*found),
                 "a list of readings, as in rows = [{ " + std::string(leader) + " = ... }]");
    for (const auto& entry : *list) {
      const auto* table = std::get_if<node_table>(&entry.value);
      if (table == nullptr) {
        add(error_code::wrong_type, "rows", text_of(entry), "a reading, as in { " + std::string(leader) + " = ... }");
        continue;
      }
      read_row(members_of(*table), rows);
    }
  }

  bool has(std::string_view key) const {
    return std::any_of(members_.begin(), members_.end(), [&](const auto& each) { return each.first == key; });
  }

  /// Names every key that the section does not have.
  void finish(const std::string& section) {
    for (const auto& [name, value] : members_) {
      if (std::find(known_.begin(), known_.end(), name) != known_.end()) continue;
      const auto advice = known_keys_near(std::string(name), known_, section);
      add(error_code::unknown_key, name, "a key that this table does not have", advice.words);
      if (advice.meant.empty()) continue;
      // What is merely misspelt is not missing as well.
      const auto meant = path_of(advice.meant);
      std::erase_if(to_.found,
                    [&](const auto& each) { return each.code == error_code::missing_key && each.path == meant; });
      to_.spoken_of.insert(meant);
    }
  }

  const node* find(std::string_view key) {
    if (std::find(known_.begin(), known_.end(), key) == known_.end()) known_.emplace_back(key);
    for (const auto& [name, value] : members_)
      if (name == key) return value;
    return nullptr;
  }

 private:
  void add(error_code code, std::string_view key, std::string read, std::string allowed) {
    to_.add(code, path_of(key), std::move(read), std::move(allowed));
  }

  std::string path_of(std::string_view key) const {
    std::string out = path_.empty() ? std::string(key) : path_ + "." + std::string(key);
    if (row_) out += "[" + std::to_string(*row_) + "]";
    return out;
  }

  const node* wanted(const char* name, const key_facts& facts) {
    const auto* found = find(name);
    if (found == nullptr && facts.needed && !skip_missing_)
      add(error_code::missing_key, name, "nothing", "a value: this key is required" + example_of(name, facts));
    return found;
  }

  template <class Value>
  void take(std::string_view name, const node& from, std::optional<Value>& value, const key_facts& facts) {
    Value there{};
    const auto before = to_.found.size();
    take(name, from, there, facts);
    if (to_.found.size() == before) value = std::move(there);
  }

  bool take_number(std::string_view name, const node& from, double& value, const char* allowed, const char* example) {
    const auto written = number_written(from, name);
    if (written.value) {
      value = *written.value;
      return true;
    }
    add(error_code::wrong_type, name, text_of(from),
        allowed +
            (written.why_not.empty() ? ", as in " + std::string(name) + " = " + example : "; " + written.why_not));
    return false;
  }

  void take(std::string_view name, const node& from, double& value, const key_facts& facts) {
    take_number(name, from, value, facts.allowed.words, facts.example);
  }

  void take(std::string_view name, const node& from, int& value, const key_facts& facts) {
    double number = 0.0;
    if (!take_number(name, from, number, facts.allowed.words, facts.example)) return;
    if (std::floor(number) == number && std::abs(number) < 2e9) {
      value = static_cast<int>(number);
      return;
    }
    add(error_code::out_of_range, name, text_of(from),
        std::string(facts.allowed.words) + ", as in " + std::string(name) + " = " + facts.example);
  }

  void take(std::string_view name, const node& from, bool& value, const key_facts& facts) {
    const auto* flag = std::get_if<bool>(&from.value);
    if (flag != nullptr) value = *flag;
    else
      add(error_code::wrong_type, name, text_of(from),
          "true or false, without quotation marks, as in " + std::string(name) + " = " +
              (facts.example[0] == '[' ? "true" : facts.example));
  }

  void take(std::string_view name, const node& from, std::string& value, const key_facts& facts) {
    const auto* text = std::get_if<std::string>(&from.value);
    if (text != nullptr && !text->empty()) value = *text;
    else if (text != nullptr)
      add(error_code::out_of_range, name, "an empty text",
          "a text, as in " + std::string(name) + " = " + facts.example);
    else
      add(error_code::wrong_type, name, text_of(from),
          "a text, in quotation marks, as in " + std::string(name) + " = " + facts.example);
  }

  void take(std::string_view name, const node& from, date& value, const key_facts&) {
    if (const auto* written = std::get_if<date>(&from.value)) {
      value = *written;
      return;
    }
    date read;
    const auto* text = std::get_if<std::string>(&from.value);
    if (text != nullptr && std::sscanf(text->c_str(), "%4d-%2d-%2d", &read.year, &read.month, &read.day) == 3 &&
        read.iso() == *text)
      value = read;
    else
      add(error_code::wrong_type, name, text_of(from),
          "a date: year-month-day, as in " + std::string(name) + " = 2026-05-14");
  }

  void take(std::string_view name, const node& from, std::vector<double>& values, const key_facts& facts) {
    const auto each = [&](const node& item, std::size_t i) {
      double value = 0.0;
      const auto written = number_written(item, name);
      if (written.value) value = *written.value;
      else
        add(error_code::wrong_type, std::string(name) + "[" + std::to_string(i) + "]", text_of(item),
            facts.allowed.words +
                (written.why_not.empty() ? example_of(std::string(name).c_str(), facts) : "; " + written.why_not));
      values.push_back(value);
    };
    const auto* list = std::get_if<node_list>(&from.value);
    if (list == nullptr) return each(from, 0);  // one reading needs no brackets
    for (std::size_t i = 0; i < list->size(); ++i) each((*list)[i], i);
    if (list->empty() && facts.needed)
      add(error_code::empty_list, name, "an empty list",
          "at least one reading" + example_of(std::string(name).c_str(), facts));
  }

  void take(std::string_view name, const node& from, std::vector<std::string>& values, const key_facts& facts) {
    const auto each = [&](const node& item, const std::string& at) {
      const auto* text = std::get_if<std::string>(&item.value);
      if (text != nullptr) values.push_back(*text);
      else
        add(error_code::wrong_type, at, text_of(item),
            "a text, in quotation marks" + example_of(std::string(name).c_str(), facts));
    };
    const auto* list = std::get_if<node_list>(&from.value);
    if (list == nullptr) return each(from, std::string(name));
    for (std::size_t i = 0; i < list->size(); ++i) each((*list)[i], std::string(name) + "[" + std::to_string(i) + "]");
    if (list->empty() && facts.needed)
      add(error_code::empty_list, name, "an empty list",
          "at least one text" + example_of(std::string(name).c_str(), facts));
  }

  void take_bounded(const char* name, const node& from, double& value, bool& over_range, const key_facts& facts,
                    const std::optional<double>& full_scale, double from_si) {
    const auto beyond = beyond_range_written(from);
    if (!beyond) return take(name, from, value, facts);
    over_range = true;
    if (beyond->at_least) value = *beyond->at_least;
    else if (full_scale) value = *full_scale * from_si;
    else {
      add(error_code::wrong_type, name, text_of(from),
          std::string(from_si == 1.0 ? "\">2\"" : "\">2000\"") +
              " with the end of the range that the meter was on, or its full_scale under [instruments]");
      value = 1.0;  // said already; nothing more is to be said of it
    }
  }

  void take_lines(const char* name, const node& from, std::optional<three_lines>& by_line, const key_facts& facts) {
    const auto* list = std::get_if<node_list>(&from.value);
    if (list == nullptr || list->size() != 3)
      return add(error_code::unequal_lengths, name,
                 list == nullptr ? text_of(from) : std::to_string(list->size()) + " values", "three, one a line");
    three_lines lines{};
    bool all = true;
    for (std::size_t i = 0; i < 3; ++i)
      all = take_number(name, (*list)[i], lines[i], facts.allowed.words, "[0.41, 0.42, 0.41]") && all;
    if (all) by_line = lines;
  }

  template <class Row>
  void read_row(members from, std::vector<Row>& rows, bool of_lists = false) {
    const auto before = to_.found.size();
    key_reader one(std::move(from), path_, to_, rows.size());
    one.skip_missing_ = of_lists;
    auto& row = rows.emplace_back();
    describe(one, row);
    if (!of_lists) one.finish("a row");
    if constexpr (std::same_as<Row, run_up_row>) {
      if (row.speed_rpm != 0.0) return;
      if (before == to_.found.size() && one.has("turning") && row.turning)
        one.add(error_code::out_of_range, "speed_rpm", "0", "a speed that agrees with turning = true");
      row.turning = false;
    }
  }

  /// Lists side by side, made into rows: three lists a key on three phases.
  template <class Row>
  void read_lists(std::vector<Row>& rows, const char* leader, const row_keys& keys) {
    std::vector<std::pair<const char*, std::vector<const node*>>> columns;
    std::deque<node> by_line;  // three values of one reading, put together
    for (const char* name : keys.names)
      if (const auto* found = find(name)) {
        std::vector<const node*> column;
        if (column_of(name, *found, column, by_line)) columns.emplace_back(name, std::move(column));
      }
    for (const char* name : keys.needed)
      if (!has(name) && !skip_missing_) add(error_code::missing_key, name, "nothing", "a value: this key is required");
    const auto first = std::find_if(columns.begin(), columns.end(),
                                    [&](const auto& each) { return each.first == std::string_view(leader); });
    if (first == columns.end()) return;
    const auto length = first->second.size();
    if (length == 0) return;  // said by validate()
    std::erase_if(columns, [&](const auto& column) {
      if (column.second.size() == length) return false;
      if (column.second.empty()) {  // an empty list says nothing, where nothing need be said
        if (std::find(keys.needed.begin(), keys.needed.end(), std::string_view(column.first)) != keys.needed.end())
          add(error_code::empty_list, column.first, "an empty list", "at least one reading");
        return true;
      }
      add(error_code::unequal_lengths, column.first, std::to_string(column.second.size()) + " values",
          std::to_string(length) + ", as many as in " + leader + decimal_commas(column.second, length));
      return true;
    });
    for (std::size_t i = 0; i < length; ++i) {
      members row;
      for (const auto& [name, column] : columns) row.emplace_back(name, column[i]);
      read_row(std::move(row), rows, true);
    }
  }

  /// 0,42 within brackets is two numbers.
  static std::string decimal_commas(const std::vector<const node*>& column, std::size_t length) {
    const auto whole = [](const node* each) { return std::holds_alternative<std::int64_t>(each->value); };
    return column.size() == 2 * length && std::all_of(column.begin(), column.end(), whole)
               ? "; a number with decimals has a point: 0.42"
               : "";
  }

  /// A list's values, or a single value as a list of one.
  bool column_of(const char* name, const node& from, std::vector<const node*>& column, std::deque<node>& by_line) {
    const auto* list = std::get_if<node_list>(&from.value);
    if (list == nullptr) {
      column.push_back(&from);
      return true;
    }
    const auto is_list = [](const node& each) { return std::holds_alternative<node_list>(each.value); };
    if (list->empty() || std::none_of(list->begin(), list->end(), is_list)) {
      for (const auto& each : *list) column.push_back(&each);
      return true;
    }
    const auto refuse = [&](std::string read, const char* allowed) {
      add(error_code::unequal_lengths, name, std::move(read), allowed);
      return false;
    };
    if (list->size() != 3) return refuse(std::to_string(list->size()) + " lists", "three lists, one a line");
    if (!std::all_of(list->begin(), list->end(), is_list)) return refuse("lists and values", "three lists, one a line");
    std::array<const node_list*, 3> lines{};
    for (std::size_t i = 0; i < 3; ++i) lines[i] = &std::get<node_list>((*list)[i].value);
    for (const auto* line : lines)
      if (line->size() != lines[0]->size())
        return refuse(std::to_string(lines[0]->size()) + " and " + std::to_string(line->size()) + " values",
                      "as many in each of the three lists");
    for (std::size_t i = 0; i < lines[0]->size(); ++i) {
      by_line.push_back({node_list{(*lines[0])[i], (*lines[1])[i], (*lines[2])[i]}, from.line, from.file});
      column.push_back(&by_line.back());
    }
    return true;
  }

  members members_;
  std::string path_;
  reading& to_;
  std::optional<std::size_t> row_;
  bool skip_missing_ = false;
  std::vector<std::string> known_;
};

/// Visits the sections of a document.
class section_reader {
 public:
  section_reader(const node_table& document, reading& to) : root_(members_of(document), "", to), to_(to) {}

  template <class Section>
  void table(const char* name, Section& section, const section_facts&) {
    const auto* found = root_.find(name);
    if (found == nullptr) to_.add(error_code::missing_key, name, "nothing", "a table [" + std::string(name) + "]");
    else read(name, *found, section);
  }

  template <class Section>
  void optional_table(const char* name, std::optional<Section>& section, const section_facts&) {
    if (const auto* found = root_.find(name)) read(name, *found, section.emplace());
  }

  template <class Section>
  void tables(const char* name, std::vector<Section>& sections, const section_facts&) {
    const auto* found = root_.find(name);
    if (found == nullptr) return;
    const auto* list = std::get_if<node_list>(&found->value);
    if (list == nullptr)
      return to_.add(error_code::wrong_type, name, text_of(*found),
                     "a list of tables, written [[" + std::string(name) + "]]");
    for (const auto& entry : *list) {
      const auto path = std::string(name) + "[" + std::to_string(sections.size()) + "]";
      read(path, entry, sections.emplace_back());
    }
  }

  template <class Section, class Names>
  void named_tables(const char* name, std::map<std::string, Section>& sections, const Names& names,
                    const section_facts&) {
    const auto* found = root_.find(name);
    if (found == nullptr) return;
    const auto* table = std::get_if<node_table>(&found->value);
    if (table == nullptr)
      return to_.add(error_code::wrong_type, name, text_of(*found),
                     "tables, as in [" + std::string(name) + "." + names[0] + "]");
    key_reader inside(members_of(*table), name, to_);
    for (const char* each : names)
      if (const auto* member = inside.find(each)) read(std::string(name) + "." + each, *member, sections[each]);
    inside.finish("");
    const auto scale = [&](const char* meter) {
      const auto there = sections.find(meter);
      return there == sections.end() ? std::nullopt : there->second.full_scale;
    };
    to_.ohm_full_scale = scale("insulation_tester");
    to_.ampere_full_scale = scale("ammeter");
  }

  void run_ups(const char* name, std::vector<run_up_section>& as_marked, std::vector<run_up_section>& rolled,
               const section_facts& facts) {
    // An explicit empty list says that nothing was run up yet; a list that is not there was forgotten.
    if (root_.find(name) == nullptr)
      return to_.add(error_code::missing_key, name, "no run-up",
                     "at least one [[run_up]] with voltage_V and current_A");
    std::vector<run_up_section> all;
    const auto before = to_.found.size();
    tables(name, all, facts);
    std::map<std::string, std::string> in_record;
    for (std::size_t i = 0; i < all.size(); ++i) {
      const bool marked = all[i].leads_rolled == 0;
      auto& into = marked ? as_marked : rolled;
      const auto path = std::string(marked ? name : "rolled_run_up") + "[" + std::to_string(into.size()) + "]";
      const auto there = std::string(name) + "[" + std::to_string(i) + "]";
      to_.in_document[path] = there;
      in_record[there] = path;
      into.push_back(std::move(all[i]));
    }
    for (auto i = before; i < to_.found.size(); ++i) exchange_section(to_.found[i].path, in_record);
  }

  void free_flags(const char* name, std::map<std::string, bool>& flags, const section_facts&) {
    const auto* found = root_.find(name);
    if (found == nullptr) return;
    const auto* table = std::get_if<node_table>(&found->value);
    if (table == nullptr) return to_.add(error_code::wrong_type, name, text_of(*found), "a table [checks]");
    for (const auto& [key, value] : *table) {
      if (const auto* flag = std::get_if<bool>(&value.value)) flags.emplace(key, *flag);
      else
        to_.add(error_code::wrong_type, std::string(name) + "." + key, text_of(value),
                "true or false, without quotation marks");
    }
  }

  /// False for a document that says to be something else.
  bool expect_format() {
    const auto* found = root_.find("format");
    const auto* text = found == nullptr ? nullptr : std::get_if<std::string>(&found->value);
    if (text == nullptr || *text != words::record_format)
      to_.add(error_code::unknown_format, "format", found == nullptr ? "nothing" : text_of(*found),
              std::string("format = \"") + words::record_format + "\"");
    return text == nullptr || *text == words::record_format;
  }

  void finish() { root_.finish(""); }

 private:
  template <class Section>
  void read(const std::string& path, const node& from, Section& section) {
    const auto* table = std::get_if<node_table>(&from.value);
    if (table == nullptr) return to_.add(error_code::wrong_type, path, text_of(from), "a table");
    key_reader one(members_of(*table), path, to_);
    describe(one, section);
    const auto bare = path.substr(0, path.find('['));
    one.finish(bare == path ? "[" + path + "]" : "[[" + bare + "]]");
  }

  key_reader root_;
  reading& to_;
};

const node* member_of(const node& table, std::string_view key) {
  const auto* there = std::get_if<node_table>(&table.value);
  if (there == nullptr) return nullptr;
  for (const auto& [name, value] : *there)
    if (name == key) return &value;
  return nullptr;
}

const node* element_of(const node& list, std::size_t i) {
  const auto* there = std::get_if<node_list>(&list.value);
  return there == nullptr || i >= there->size() ? nullptr : &(*there)[i];
}

std::pair<std::string, std::vector<std::size_t>> step_of(std::string_view text) {
  const auto open = text.find('[');
  std::pair<std::string, std::vector<std::size_t>> out{std::string(text.substr(0, open)), {}};
  for (auto at = open; at != std::string_view::npos; at = text.find('[', at + 1))
    out.second.push_back(static_cast<std::size_t>(std::strtoul(text.data() + at + 1, nullptr, 10)));
  return out;
}

/// The value of a document that a path leads to, or the last one on the way to it.
const node& node_at(const node& document, const std::string& path) {
  const node* here = &document;
  std::string_view left = path;
  while (!left.empty()) {
    const auto dot = std::min(left.find('.'), left.size());
    const auto [name, places] = step_of(left.substr(0, dot));
    left.remove_prefix(std::min(dot + 1, left.size()));
    const auto* next = member_of(*here, name);
    // A reading may stand in a row instead of in a list.
    if (const auto* rows = member_of(*here, "rows"); next == nullptr && rows != nullptr) {
      const auto* row = places.empty() ? rows : element_of(*rows, places.back());
      if (row == nullptr) return *here;
      const auto* value = member_of(*row, name);
      return value == nullptr ? *row : *value;
    }
    if (next == nullptr) return *here;
    here = next;
    for (const auto place : places) {
      const auto* element = element_of(*here, place);
      if (element == nullptr) return *here;
      here = element;
    }
  }
  return *here;
}

/// What the record as a whole cannot be, less what follows from values that could not be read.
void add_what_cannot_be(const visit_record& record, bool lines_unread, reading& to) {
  std::set<std::string> paths = to.spoken_of, sections;
  for (const auto& each : to.found) {
    paths.insert(each.path);
    sections.insert(section_of_path(each.path));
  }
  for (const auto& each : to.spoken_of) sections.insert(section_of_path(each));  // a misspelt table was not read
  const bool doubtful = lines_unread || sections.contains("machine") || sections.contains("visit");
  for (auto& each : problems_of(record)) {
    if (paths.contains(each.path) || paths.contains(section_of_path(each.path))) continue;
    const auto key = each.path.substr(0, each.path.rfind('['));
    if (paths.contains(key) && key.find('.') != std::string::npos) continue;
    if (each.of_several && (doubtful || sections.contains(section_of_path(each.path)))) continue;
    to.found.push_back(std::move(each));
  }
}

/// Problems as errors with their places.
std::vector<error> errors_of(const reading& in, const node& document, const visit_record& record) {
  std::vector<error> out;
  for (const auto& each : in.found) {
    auto field = each.path;
    exchange_section(field, in.in_document);
    const auto& at = node_at(document, field);
    const auto file = at.file ? *at.file : document.file ? *document.file : "";
    out.emplace_back(each.code, base::place{file, at.line, field, words_of_path(each.path, record)}, each.read,
                     each.allowed);
  }
  return out;
}

}  // namespace

visit_record record_from(const node& document, const unread_lines& unread) {
  reading to;
  visit_record out;
  const auto* table = std::get_if<node_table>(&document.value);
  if (table == nullptr) throw error(error_code::wrong_type, {"", document.line, ""}, text_of(document), "a table");
  section_reader sections(*table, to);
  if (!sections.expect_format()) base::throw_all(errors_of(to, document, out));
  describe_record(sections, out);
  sections.finish();
  add_what_cannot_be(out, !unread.keys.empty(), to);
  // A key whose line could not be read is not missing.
  std::erase_if(to.found, [&](const problem& each) {
    return each.code == error_code::missing_key && unread.keys.contains(each.path.substr(each.path.rfind('.') + 1));
  });
  auto found = errors_of(to, document, out);
  found.insert(found.end(), unread.errors.begin(), unread.errors.end());
  // In the order of the file; tables of readings behind it, and last the tables that it does not have at all.
  const auto place = [&](const error& each) {
    const auto& at = each.where();
    const bool elsewhere = document.file && at.file != *document.file;
    const bool absent = each.code() == error_code::missing_key && at.field.find('.') == std::string::npos;
    return std::tuple(absent, elsewhere, at.file, at.line, each.code() != error_code::not_toml);
  };
  std::stable_sort(found.begin(), found.end(), [&](const error& a, const error& b) { return place(a) < place(b); });
  base::throw_all(std::move(found));
  return out;
}

machine_section machine_from(const node& document) {
  reading to;
  visit_record out;
  const auto* table = std::get_if<node_table>(&document.value);
  if (table == nullptr) throw error(error_code::wrong_type, {"", document.line, ""}, text_of(document), "a table");
  section_reader(*table, to).table("machine", out.machine, {""});
  add_what_cannot_be(out, false, to);
  std::erase_if(to.found, [](const auto& each) { return section_of_path(each.path) != "machine"; });
  base::throw_all(errors_of(to, document, out));
  return out.machine;
}

visit_record record_from(const node& document) { return record_from(document, {}); }

visit_record record_from_text(std::string_view text, const std::string& name) {
  auto [document, unread] = read_leniently(text, name);
  expand_tables(document, std::filesystem::path(name).parent_path().string());
  return record_from(document, unread);
}

visit_record load_record(const std::string& path) {
  auto [document, unread] = read_leniently(path);
  expand_tables(document, std::filesystem::path(path).parent_path().string());
  return record_from(document, unread);
}

}  // namespace rewound::record
