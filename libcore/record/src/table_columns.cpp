// SPDX-License-Identifier: MIT
#include "table_columns.hpp"

#include <algorithm>
#include <array>
#include <cstring>

#include <rewound/base/error.hpp>
#include <rewound/record/fields.hpp>

namespace rewound::record {

namespace {

using base::error;
using base::error_code;

struct known_column {
  std::string_view name;
  column_kind kind;
  cell_kind cells = cell_kind::value;
};

constexpr auto known_columns = [] {
  using enum column_kind;
  using enum cell_kind;
  return std::to_array<known_column>({{"machine", machine_id, text},
                                      {"speed", run_up_key, text},
                                      {"leads", run_up_key, text},
                                      {"winding_C", run_up_key},
                                      {"voltage_V", reading},
                                      {"current_A", reading},
                                      {"power_W", reading},
                                      {"speed_rpm", reading},
                                      {"turning", reading},
                                      {"model", machine_key, text},
                                      {"description", machine_key, text},
                                      {"phases", machine_key},
                                      {"rated_voltage_V", machine_key},
                                      {"rated_frequency_Hz", machine_key},
                                      {"rated_current_A", machine_key},
                                      {"rated_power_W", machine_key},
                                      {"rated_tolerance_percent", machine_key},
                                      {"poles", machine_key},
                                      {"rotor_resistance_ohm", machine_key},
                                      {"speeds", machine_key, texts},
                                      {"speed_control", machine_key, text},
                                      {"running_circuit", machine_key, text},
                                      {"winding_kind", machine_key, text},
                                      {"insulation_class", machine_key, text},
                                      {"insulation_system", machine_key, text},
                                      {"wound_year", machine_key},
                                      {"appliance_class", machine_key, text},
                                      {"frame_earthed", machine_key},
                                      {"portable", machine_key},
                                      {"date", visit_key, text},
                                      {"state", visit_key, text},
                                      {"work", visit_key, texts},
                                      {"ambient_C", visit_key},
                                      {"humidity_percent", visit_key},
                                      {"supply_voltage_V", visit_key},
                                      {"supply_frequency_Hz", visit_key},
                                      {"shaft", visit_key, text}});
}();

constexpr std::array<line_column, 6> line_columns{{{"current_L1_A", "current_A", 0},
                                                   {"current_L2_A", "current_A", 1},
                                                   {"current_L3_A", "current_A", 2},
                                                   {"voltage_L1_L2_V", "line_voltage_V", 0},
                                                   {"voltage_L2_L3_V", "line_voltage_V", 1},
                                                   {"voltage_L3_L1_V", "line_voltage_V", 2}}};

table_column column_named(const std::string& name, const std::string& file, int line) {
  for (const auto& known : known_columns)
    if (known.name == name) return {name, known.kind, known.cells};
  if (const auto* lines = line_column_named(name)) return {name, column_kind::line_reading, cell_kind::value, lines};
  std::vector<std::string> names;
  for (const auto& known : known_columns) names.emplace_back(known.name);
  for (const auto& known : line_columns) names.emplace_back(known.column);
  const auto meant = nearest(name, names);
  std::string allowed;
  if (meant) allowed = "did you mean " + *meant + "?";
  else
    for (const auto& each : names) allowed += (allowed.empty() ? "" : ", ") + each;
  throw error(error_code::unknown_key, {file, line, name}, "a column that is not known", allowed);
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
  for (const auto& entry : line_columns)
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
