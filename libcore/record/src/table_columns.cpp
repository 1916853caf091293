// SPDX-License-Identifier: MIT
#include "table_columns.hpp"

#include <algorithm>
#include <cstring>

#include <rewound/base/error.hpp>

#include "written_values.hpp"

namespace rewound::record {

namespace {

using base::error;
using base::error_code;

struct known_column {
  std::string name;
  column_kind kind;
  cell_kind cells = cell_kind::value;
};

cell_kind cells_of_kind(key_kind kind) {
  switch (kind) {
    case key_kind::texts: return cell_kind::texts;
    case key_kind::text:
    case key_kind::word:
    case key_kind::date: return cell_kind::text;
    default: return cell_kind::value;
  }
}

/// Every key of a machine, a visit, a run-up and its instruments that one cell can hold.
const std::vector<known_column>& known_columns() {
  static const std::vector<known_column> known = [] {
    std::vector<known_column> out{{"machine", column_kind::machine_id, cell_kind::text}};
    const auto add = [&](std::string_view section, const auto& kind_of) {
      for (const auto& key : listed_keys()) {
        if (key.section != section || key.name == "id" || key.kind == key_kind::numbers || key.row_only) continue;
        if (key.name == "line_voltage_V") continue;  // three columns, below
        out.push_back({key.name, kind_of(key), cells_of_kind(key.kind)});
      }
    };
    add("run_up", [](const auto& key) { return key.of_row ? column_kind::reading : column_kind::run_up_key; });
    add("machine", [](const auto&) { return column_kind::machine_key; });
    add("visit", [](const auto&) { return column_kind::visit_key; });
    for (const std::string meter : {"voltmeter", "ammeter", "wattmeter", "tachometer"})
      for (const auto& key : listed_keys()) {
        const bool link =
            key.name == "address" || key.name == "query" || key.name == "timeout_s";  // of `rewound bench`
        if (key.section == "instruments.voltmeter" && !link)
          out.push_back({"instruments." + meter + "." + key.name, column_kind::meter_key, cells_of_kind(key.kind)});
      }
    return out;
  }();
  return known;
}

table_column column_named(const std::string& name, const std::string& file, int line) {
  for (const auto& known : known_columns())
    if (known.name == name) return {name, known.kind, known.cells};
  if (const auto* lines = line_column_named(name)) return {name, column_kind::line_reading, cell_kind::value, lines};
  std::vector<std::string> names;
  for (const auto& known : known_columns()) names.emplace_back(known.name);
  for (const auto& known : line_columns()) names.emplace_back(known.column);
  throw error(error_code::unknown_key, {file, line, name}, "a column that is not known",
              known_keys_near(name, names, "").words);
}

std::string_view trimmed_view(std::string_view text) {
  const auto first = text.find_first_not_of(" \t\r");
  if (first == std::string_view::npos) return {};
  return text.substr(first, text.find_last_not_of(" \t\r") - first + 1);
}

bool split_quoted(std::string_view line, std::vector<std::string_view>& cells, std::vector<std::string>& unquoted) {
  unquoted.assign(1, "");
  bool quoted = false;
  for (std::size_t i = 0; i < line.size(); ++i) {
    const char c = line[i];
    if (quoted && c == '"' && i + 1 < line.size() && line[i + 1] == '"') unquoted.back() += line[++i];
    else if (c == '"') quoted = !quoted;
    else if (c == ',' && !quoted) unquoted.emplace_back();
    else unquoted.back() += c;
  }
  for (const auto& cell : unquoted) cells.push_back(trimmed_view(cell));
  return !quoted;
}

}  // namespace

const line_column* line_column_named(std::string_view column) {
  for (const auto& entry : line_columns())
    if (entry.column == column) return &entry;
  return nullptr;
}

std::vector<table_column> table_columns(const std::vector<std::string>& header, const std::string& file, int line) {
  std::vector<table_column> out;
  for (const auto& name : header) {
    out.push_back(column_named(name, file, line));
    if (std::count(header.begin(), header.end(), name) > 1)
      throw error(error_code::repeated, {file, line, name}, "two columns of this name", "names of columns that differ");
  }
  for (const char* needed : {"machine", "speed", "voltage_V", "rated_voltage_V", "rated_frequency_Hz"})
    if (std::find(header.begin(), header.end(), needed) == header.end())
      throw error(error_code::missing_key, {file, line, ""}, "no such column", "a column " + std::string(needed));
  return out;
}

bool split_cells(std::string_view line, std::vector<std::string_view>& cells, std::vector<std::string>& unquoted) {
  cells.clear();
  if (line.find('"') != std::string_view::npos) return split_quoted(line, cells, unquoted);
  for (;;) {
    const auto comma = line.find(',');
    cells.push_back(trimmed_view(line.substr(0, comma)));
    if (comma == std::string_view::npos) return true;
    line.remove_prefix(comma + 1);
  }
}

void cells_of_line(std::string_view line, const std::string& file, int number, std::vector<std::string_view>& cells,
                   std::vector<std::string>& unquoted) {
  if (!split_cells(line, cells, unquoted))
    throw error(error_code::bad_table, {file, number, ""}, "a quotation mark that is not closed",
                "closed quotation marks on each line");
}

void expect_cells(std::size_t found, std::size_t due, const std::string& file, int number) {
  if (found == due) return;
  throw error(error_code::bad_table, {file, number, ""}, std::to_string(found) + " cells",
              std::to_string(due) + " cells, as in the header");
}

}  // namespace rewound::record
