// SPDX-License-Identifier: MIT
#include <rewound/record/key_table.hpp>

#include <algorithm>
#include <array>

#include <rewound/record/keys.hpp>

#include "written_values.hpp"

namespace rewound::record {

namespace {

key_kind kind_of_value(const std::string&) { return key_kind::text; }
key_kind kind_of_value(const std::vector<std::string>&) { return key_kind::texts; }
key_kind kind_of_value(double) { return key_kind::number; }
key_kind kind_of_value(int) { return key_kind::whole_number; }
key_kind kind_of_value(bool) { return key_kind::flag; }
key_kind kind_of_value(const date&) { return key_kind::date; }
key_kind kind_of_value(const std::vector<double>&) { return key_kind::numbers; }
template <class Value>
key_kind kind_of_value(const std::optional<Value>&) {
  return kind_of_value(Value{});
}

/// Visits the list and writes it down.
class key_lister {
 public:
  std::vector<listed_key> keys;
  std::vector<listed_section> sections;

  template <class Value>
  void key(const char* name, const Value& value, const key_facts& facts) {
    const auto kind = kind_of_value(value);
    const bool number = kind == key_kind::number || kind == key_kind::whole_number || kind == key_kind::numbers;
    add(name, kind, number ? facts.allowed.words : "", facts);
  }
  template <class Value, class Words>
  void word(const char* name, const Value&, const Words& known, const key_facts& facts) {
    std::string words;
    for (const auto& [text, stands_for] : known) words += (words.empty() ? "" : " ") + std::string(text);
    add(name, key_kind::word, words, facts);
  }
  void bounded(const char* name, double, bool, const key_facts& facts) {
    add(name, key_kind::number, facts.allowed.words, facts);
  }
  void current(const char* name, double, const std::optional<three_lines>&, bool, const key_facts& facts) {
    add(name, key_kind::number, facts.allowed.words, facts);
    keys.back().by_line = true;
  }
  void lines(const char* name, const std::optional<three_lines>&, const key_facts& facts) {
    add(name, key_kind::number, facts.allowed.words, facts);
    keys.back().by_line = true;
  }
  template <class Row>
  void rows(const std::vector<Row>&, const char*) {
    of_row_ = true;
    const Row row{};
    describe(*this, row);
    of_row_ = false;
  }

  template <class Section>
  void table(const char* name, const Section&, const section_facts& facts) {
    list<Section>(name, "[" + std::string(name) + "]", facts);
  }
  template <class Section>
  void optional_table(const char* name, const std::optional<Section>&, const section_facts& facts) {
    list<Section>(name, "[" + std::string(name) + "]", facts);
  }
  template <class Section>
  void tables(const char* name, const std::vector<Section>&, const section_facts& facts) {
    list<Section>(name, "[[" + std::string(name) + "]]", facts);
  }
  template <class Section, class Names>
  void named_tables(const char* name, const std::map<std::string, Section>&, const Names& names,
                    const section_facts& facts) {
    const auto first = std::string(name) + "." + names[0];
    list<Section>(first.c_str(), "[" + first + "]", facts);
  }
  void run_ups(const char* name, const std::vector<run_up_section>& as_marked, const std::vector<run_up_section>&,
               const section_facts& facts) {
    tables(name, as_marked, facts);
  }
  void free_flags(const char* name, const std::map<std::string, bool>&, const section_facts& facts) {
    sections.push_back({name, "[" + std::string(name) + "]", facts.doc, facts.ordinary});
  }

 private:
  template <class Section>
  void list(const char* name, std::string heading, const section_facts& facts) {
    section_ = name;
    sections.push_back({name, std::move(heading), facts.doc, facts.ordinary});
    const Section section{};
    describe(*this, section);
  }

  void add(const char* name, key_kind kind, const std::string& allowed, const key_facts& facts) {
    keys.push_back({section_, name, std::string(unit_of(name)), kind, allowed, facts.needed, facts.ordinary, of_row_,
                    facts.row_only, false, facts.doc, facts.example});
  }

  std::string section_;
  bool of_row_ = false;
};

const key_lister& all_keys() {
  static const key_lister all = [] {
    key_lister out;
    const visit_record nothing;
    describe_record(out, nothing);
    return out;
  }();
  return all;
}

std::string words_of(key_kind kind) {
  switch (kind) {
    case key_kind::text: return "text";
    case key_kind::texts: return "list of texts";
    case key_kind::number: return "number";
    case key_kind::whole_number: return "whole number";
    case key_kind::flag: return "true or false";
    case key_kind::date: return "date";
    case key_kind::word: return "one of";
    case key_kind::numbers: return "list of numbers";
  }
  return "";
}

}  // namespace

const std::vector<listed_key>& listed_keys() { return all_keys().keys; }
const std::vector<listed_section>& listed_sections() { return all_keys().sections; }

std::span<const line_column> line_columns() {
  static constexpr std::array<line_column, 6> all{{{"current_L1_A", "current_A", 0},
                                                   {"current_L2_A", "current_A", 1},
                                                   {"current_L3_A", "current_A", 2},
                                                   {"voltage_L1_L2_V", "line_voltage_V", 0},
                                                   {"voltage_L2_L3_V", "line_voltage_V", 1},
                                                   {"voltage_L3_L1_V", "line_voltage_V", 2}}};
  return all;
}

std::string key_table() {
  std::string out;
  for (const auto& section : listed_sections()) {
    const auto has_keys = [&](const auto& key) { return key.section == section.name; };
    if (std::none_of(listed_keys().begin(), listed_keys().end(), has_keys)) continue;
    out += (out.empty() ? "" : "\n") + std::string("### `") + section.heading + "`: " + section.doc + "\n\n";
    out += "| key | value | needed | what it is | example |\n|---|---|---|---|---|\n";
    for (const auto& key : listed_keys()) {
      if (!has_keys(key)) continue;
      std::string value = words_of(key.kind);
      if (key.kind == key_kind::word) value += " " + key.allowed;
      else if (!key.allowed.empty()) value = (key.kind == key_kind::numbers ? "list, each " : "") + key.allowed;
      if (key.of_row) value += key.row_only ? "; in `rows` only" : "; one a reading";
      out += "| `" + key.name + "` | " + value + " | " + (key.needed ? "yes" : "") + " | " + key.doc + " | `" +
             key.example + "` |\n";
    }
  }
  return out;
}

}  // namespace rewound::record
