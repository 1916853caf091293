// SPDX-License-Identifier: MIT
#include <algorithm>
#include <array>
#include <cmath>
#include <concepts>
#include <cstdio>

#include <rewound/base/number_text.hpp>
#include <rewound/record/keys.hpp>

// Writes a record by the list of keys (keys.hpp): the counterpart of read_record.cpp.
namespace rewound::record {

namespace {

/// A text as TOML's basic string.
std::string in_toml_quotes(std::string_view text) {
  std::string out = "\"";
  for (const char c : text) {
    if (c == '"' || c == '\\') out += '\\';
    if (static_cast<unsigned char>(c) >= 0x20 && c != 0x7f) {
      out += c;
      continue;
    }
    char escaped[8];
    std::snprintf(escaped, sizeof escaped, "\\u%04x", static_cast<unsigned>(static_cast<unsigned char>(c)));
    out += escaped;
  }
  return out + "\"";
}

/// A key as it stands, or quoted where TOML asks for it.
std::string key_of(const std::string& name) {
  const auto bare = [](char c) {
    return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') || c == '_' || c == '-';
  };
  return !name.empty() && std::all_of(name.begin(), name.end(), bare) ? name : in_toml_quotes(name);
}

std::string written(const std::string& value) { return in_toml_quotes(value); }
std::string written(bool value) { return value ? "true" : "false"; }
std::string written(int value) { return std::to_string(value); }
std::string written(const date& value) { return value.iso(); }

/// The shortest digits that give the same number again; a whole number is written as one.
std::string written(double value) { return base::shortest_text(value); }

std::string in_brackets(const std::vector<std::string>& values) {
  std::string out;
  for (const auto& value : values) out += (out.empty() ? "" : ", ") + value;
  return "[" + out + "]";
}

template <class Value>
std::string written(const std::vector<Value>& values) {
  std::vector<std::string> out;
  for (const auto& value : values) out.push_back(written(value));
  return in_brackets(out);
}

/// A key of a section as text.
struct cell {
  const char* name;
  std::vector<std::string> texts;  ///< one; three for what is read on three lines
  bool says_something;             ///< its absence would not say the same
  bool row_only;

  std::string text() const { return texts.size() == 1 ? texts.front() : in_brackets(texts); }
};

/// Visits the keys of a section beside those of an untouched one, whose values need not be written.
template <class Section>
class cell_writer {
 public:
  std::vector<cell> cells;

  explicit cell_writer(const Section& usual) : usual_(&usual) {}

  template <class Value>
  void key(const char* name, const std::optional<Value>& value, const key_facts& facts) {
    if (value) add(name, written(*value), true, facts);
  }
  template <class Value>
  void key(const char* name, const std::vector<Value>& values, const key_facts& facts) {
    if (!values.empty() || facts.needed) add(name, written(values), true, facts);
  }
  template <class Value>
  void key(const char* name, const Value& value, const key_facts& facts) {
    add(name, written(value), facts.always || facts.needed || !(value == Value(usual_value(name, value))), facts);
  }

  template <class Value, class Words>
  void word(const char* name, const std::optional<Value>& value, const Words& known, const key_facts& facts) {
    if (value) word_of(name, *value, known, true, facts);
  }
  template <class Value, class Words>
  void word(const char* name, const Value& value, const Words& known, const key_facts& facts) {
    word_of(name, value, known, facts.always || facts.needed || value != known.front().second, facts);
  }

  void bounded(const char* name, double value, bool over_range, const key_facts& facts) {
    add(name, over_range ? in_toml_quotes(">" + written(value)) : written(value), true, facts);
  }
  void current(const char* name, double mean, const std::optional<three_lines>& by_line, bool over_range,
               const key_facts& facts) {
    if (by_line) lines(name, by_line, facts);
    else bounded(name, mean, over_range, facts);
  }
  void lines(const char* name, const std::optional<three_lines>& by_line, const key_facts& facts) {
    if (!by_line) return;
    cells.push_back({name, {}, true, facts.row_only});
    for (const double each : *by_line) cells.back().texts.push_back(written(each));
  }

  template <class Row>
  void rows(const std::vector<Row>& rows, const char*);

 private:
  void add(const char* name, std::string text, bool says_something, const key_facts& facts) {
    cells.push_back({name, {std::move(text)}, says_something, facts.row_only});
  }

  /// The value that an untouched section has.
  template <class Value>
  Value usual_value(const char* name, const Value&) const {
    value_finder<Value> finder{name};
    describe(finder, *usual_);
    return finder.found;
  }

  template <class Value>
  struct value_finder {
    const char* name;
    Value found{};

    void key(const char* key, const Value& value, const key_facts&) {
      if (std::string_view(key) == name) found = value;
    }
    template <class Other>
    void key(const char*, const Other&, const key_facts&) {}
    template <class Other, class Words>
    void word(const char*, const Other&, const Words&, const key_facts&) {}
    void bounded(const char*, double, bool, const key_facts&) {}
    void current(const char*, double, const std::optional<three_lines>&, bool, const key_facts&) {}
    void lines(const char*, const std::optional<three_lines>&, const key_facts&) {}
    template <class Row>
    void rows(const std::vector<Row>&, const char*) {}
  };

  /// The first word that stands for a value.
  template <class Value, class Words>
  void word_of(const char* name, const Value& value, const Words& known, bool says_something, const key_facts& facts) {
    for (const auto& [text, stands_for] : known)
      if (stands_for == value) return add(name, in_toml_quotes(text), says_something, facts);
  }

  const Section* usual_;
};

template <class Section>
std::vector<cell> cells_of(const Section& section) {
  const Section usual;
  cell_writer<Section> writer(usual);
  describe(writer, section);
  return std::move(writer.cells);
}

/// A rotor of 0 rpm is said to stand still.
run_up_row as_said(run_up_row row) {
  row.turning = row.turns();
  return row;
}
const insulation_row& as_said(const insulation_row& row) { return row; }

/// Columns of rows as lists side by side, where they can be: each has something to say in every row or in none, or says
/// what is usual elsewhere.
std::optional<std::vector<cell>> as_lists(const std::vector<std::vector<cell>>& rows) {
  std::vector<cell> out;
  for (const auto& row : rows)
    for (const auto& each : row)
      if (each.says_something &&
          std::none_of(out.begin(), out.end(), [&](const auto& c) { return c.name == each.name; }))
        out.push_back({each.name, {}, true, each.row_only});
  // In the order of the keys, which a later row may have more of.
  const auto rank = [&](const char* name) {
    std::size_t most = 0;
    for (const auto& row : rows)
      for (std::size_t i = 0; i < row.size(); ++i)
        if (row[i].name == name) most = std::max(most, i);
    return most;
  };
  std::stable_sort(out.begin(), out.end(), [&](const auto& a, const auto& b) { return rank(a.name) < rank(b.name); });
  for (auto& column : out) {
    if (column.row_only) return std::nullopt;
    std::vector<const cell*> cells;
    for (const auto& row : rows)
      for (const auto& each : row)
        if (each.name == column.name) cells.push_back(&each);
    if (cells.size() != rows.size()) return std::nullopt;
    const auto lines = cells.front()->texts.size();
    for (std::size_t line = 0; line < lines; ++line) {
      std::vector<std::string> values;
      for (const auto* each : cells) {
        if (each->texts.size() != lines) return std::nullopt;
        values.push_back(each->texts[line]);
      }
      column.texts.push_back(in_brackets(values));
    }
  }
  return out;
}

std::string row_text(const std::vector<cell>& row) {
  std::string out;
  for (const auto& each : row)
    if (each.says_something) out += (out.empty() ? " " : ", ") + std::string(each.name) + " = " + each.text();
  return "  {" + out + " },\n";
}

template <class Section>
template <class Row>
void cell_writer<Section>::rows(const std::vector<Row>& rows, const char*) {
  std::vector<std::vector<cell>> all;
  for (const auto& row : rows) all.push_back(cells_of(as_said(row)));
  if (auto lists = as_lists(all)) {
    cells.insert(cells.end(), lists->begin(), lists->end());
    return;
  }
  std::string text = "[\n";
  for (const auto& row : all) text += row_text(row);
  cells.push_back({"rows", {text + "]"}, true, false});
}

/// Visits the sections of a record.
class section_writer {
 public:
  std::string text;

  template <class Section>
  void table(const std::string& name, const Section& section, const section_facts& = {}) {
    write("[" + name + "]", section);
  }
  template <class Section>
  void optional_table(const char* name, const std::optional<Section>& section, const section_facts&) {
    if (section) table(name, *section);
  }
  template <class Section>
  void tables(const char* name, const std::vector<Section>& sections, const section_facts&) {
    for (const auto& section : sections) write("[[" + std::string(name) + "]]", section);
  }
  template <class Section, class Names>
  void named_tables(const char* name, const std::map<std::string, Section>& sections, const Names&,
                    const section_facts&) {
    for (const auto& [member, section] : sections) table(std::string(name) + "." + member, section);
  }
  void run_ups(const char* name, const std::vector<run_up_section>& as_marked,
               const std::vector<run_up_section>& rolled, const section_facts& facts) {
    tables(name, as_marked, facts);
    tables(name, rolled, facts);
  }
  void free_flags(const char* name, const std::map<std::string, bool>& flags, const section_facts&) {
    if (flags.empty()) return;
    text += "\n[" + std::string(name) + "]\n";
    for (const auto& [key, flag] : flags) text += key_of(key) + " = " + written(flag) + "\n";
  }

 private:
  template <class Section>
  void write(const std::string& head, const Section& section) {
    text += "\n" + head + "\n";
    for (const auto& each : cells_of(section))
      if (each.says_something) text += std::string(each.name) + " = " + each.text() + "\n";
  }
};

}  // namespace

std::string record_text(const visit_record& in) {
  section_writer out;
  describe_record(out, in);
  const bool nothing_run = in.run_up.empty() && in.rolled_run_up.empty();
  return "format = " + written(std::string(words::record_format)) + "\n" +
         (nothing_run ? "run_up = []  # none yet\n" : "") + out.text;
}

}  // namespace rewound::record
