// SPDX-License-Identifier: MIT
#include "tables.hpp"

#include <algorithm>
#include <array>
#include <filesystem>
#include <string_view>

#include <rewound/base/error.hpp>
#include <rewound/base/number_text.hpp>
#include <rewound/record/key_table.hpp>

#include "csv.hpp"
#include "table_columns.hpp"

namespace rewound::record {

namespace {

/// A section whose table rows are gathered: the column that names the entry, and one that tells entries of a name apart
/// (and what its absence means). What is one value a reading goes into rows.
struct gathered {
  std::string_view section;
  std::string_view key;
  std::string_view apart;
  std::string_view apart_when_absent;
};

constexpr std::array<gathered, 2> gathered_sections{{
    {"run_up", "speed", "leads", "as_marked"},
    {"insulation", "circuit", "", ""},
}};

const line_column* line_of(const gathered* rule, std::string_view column) {
  return rule == nullptr || rule->section != "run_up" ? nullptr : line_column_named(column);
}

const gathered* gathering_of(std::string_view section) {
  for (const auto& entry : gathered_sections)
    if (entry.section == section) return &entry;
  return nullptr;
}

node* member(node_table& table, std::string_view key) {
  for (auto& [name, value] : table)
    if (name == key) return &value;
  return nullptr;
}

/// A member's text; `otherwise` where there is none.
std::string text_in(node_table& table, std::string_view key, std::string_view otherwise) {
  const node* found = member(table, key);
  const auto* text = found == nullptr ? nullptr : std::get_if<std::string>(&found->value);
  return text == nullptr ? std::string(otherwise) : *text;
}

node_list& list_in(node& holder, std::string_view key, const node& at) {
  auto* list = std::get_if<node_list>(&holder.value);
  if (list == nullptr)
    throw base::error(base::error_code::bad_table, {*at.file, at.line, std::string(key)},
                      "one column and columns by line", "either, for " + std::string(key));
  return *list;
}

/// The list that a column's cells go into, made where it is new.
node_list& list_under(node_table& members, std::string_view key, const node& at) {
  node* present = member(members, key);
  if (present == nullptr) {
    members.emplace_back(key, node{node_list{}, at.line, at.file});
    present = &members.back().second;
  }
  return list_in(*present, key, at);
}

/// One cell into the list of a key that holds three, one a line.
void add_to_line(node_table& row, const line_column& line, node value) {
  list_under(row, line.key, value).push_back(std::move(value));
}

/// Whether a column holds one value a reading.
bool of_readings(const gathered* rule, std::string_view column) {
  return rule != nullptr && std::any_of(listed_keys().begin(), listed_keys().end(), [&](const auto& key) {
           return key.of_row && !key.row_only && key.section == rule->section && key.name == column;
         });
}

/// The entry that a row belongs to: a new one, or the earlier one of the same name that lists are gathered in.
node& entry_for(node_list& entries, const csv_table& table, const csv_table::row& row, const gathered* rule,
                const std::shared_ptr<const std::string>& file) {
  const auto fresh = [&]() -> node& {
    entries.push_back({node_table{}, row.line, file});
    return entries.back();
  };
  if (rule == nullptr) return fresh();
  const auto column = std::find(table.columns.begin(), table.columns.end(), rule->key);
  if (column == table.columns.end())
    throw base::error(base::error_code::missing_key, {table.file, 1, ""}, "no such column",
                      "a column " + std::string(rule->key));
  const auto& wanted = row.cells[static_cast<std::size_t>(column - table.columns.begin())];
  const auto other = std::find(table.columns.begin(), table.columns.end(), rule->apart);
  const auto& cell =
      other == table.columns.end() ? std::string() : row.cells[static_cast<std::size_t>(other - table.columns.begin())];
  const std::string apart = cell.empty() ? std::string(rule->apart_when_absent) : cell;
  for (auto& entry : entries) {
    auto& members = std::get<node_table>(entry.value);
    if (text_in(members, rule->key, "") == wanted && text_in(members, rule->apart, rule->apart_when_absent) == apart)
      return entry;
  }
  return fresh();
}

void add_row(node& entry, const csv_table& table, const csv_table::row& table_row, const gathered* rule,
             const std::shared_ptr<const std::string>& file) {
  auto& members = std::get<node_table>(entry.value);
  node_table reading;
  for (std::size_t i = 0; i < table.columns.size(); ++i) {
    const auto& column = table.columns[i];
    if (table_row.cells[i].empty()) continue;
    node value = cell_value(table_row.cells[i], table_row.line, file);
    if (rule != nullptr && column == rule->key) value.value = table_row.cells[i];
    if (const auto* line = line_of(rule, column)) {
      add_to_line(reading, *line, std::move(value));
      continue;
    }
    const node* present = member(members, column);
    if (of_readings(rule, column)) {
      if (member(reading, column) != nullptr) list_under(reading, column, value);  // refuses it beside columns by line
      reading.emplace_back(column, std::move(value));
    } else if (present == nullptr) members.emplace_back(column, std::move(value));
    else if (text_of(*present) != text_of(value))
      throw base::error(base::error_code::bad_table, {table.file, table_row.line, column}, text_of(value),
                        "the same value on all rows of one entry, here " + text_of(*present));
  }
  if (rule == nullptr) return;
  node row{std::move(reading), table_row.line, file};
  list_under(members, "rows", row).push_back(std::move(row));
}

node_list rows_of(const std::string& path, std::string_view section) {
  const auto table = read_csv(path);
  const auto file = std::make_shared<const std::string>(path);
  const auto* rule = gathering_of(section);
  node_list entries;
  for (const auto& row : table.rows) add_row(entry_for(entries, table, row, rule, file), table, row, rule, file);
  return entries;
}

void expand_section(node_list& entries, std::string_view section, const std::string& folder) {
  node_list out;
  for (auto& entry : entries) {
    auto* table = std::get_if<node_table>(&entry.value);
    node* file = table == nullptr ? nullptr : member(*table, "file");
    if (file == nullptr) {
      out.push_back(std::move(entry));
      continue;
    }
    const std::string field = std::string(section) + "[" + std::to_string(out.size()) + "].file";
    const base::place where{entry.file ? *entry.file : "", file->line, field};
    const auto* name = std::get_if<std::string>(&file->value);
    if (name == nullptr) throw base::error(base::error_code::wrong_type, where, text_of(*file), "a text");
    if (table->size() != 1)
      throw base::error(base::error_code::unknown_key, where, "other keys beside file",
                        "file alone: everything else stands in the table it names");
    for (auto& row : rows_of((std::filesystem::path(folder) / *name).string(), section)) out.push_back(std::move(row));
  }
  entries = std::move(out);
}

}  // namespace

node cell_value(std::string_view cell, int line, const std::shared_ptr<const std::string>& file) {
  node out;
  out.line = line;
  out.file = file;
  const auto number = base::whole_number_text(cell);
  if (cell == "true" || cell == "True") out.value = true;
  else if (cell == "false" || cell == "False") out.value = false;
  else if (number) out.value = *number;
  else out.value = std::string(cell);
  return out;
}

void expand_tables(node& document, const std::string& folder) {
  auto* sections = std::get_if<node_table>(&document.value);
  if (sections == nullptr) return;
  for (auto& [name, section] : *sections)
    if (auto* entries = std::get_if<node_list>(&section.value)) expand_section(*entries, name, folder);
}

}  // namespace rewound::record
