// SPDX-License-Identifier: MIT
#include "machine_rows.hpp"

#include <algorithm>
#include <array>

#include <rewound/base/error.hpp>
#include <rewound/record/words.hpp>

namespace rewound::record {

namespace {

using base::error;
using base::error_code;

/// Gathers a machine's rows into a record's document.
class row_gatherer {
 public:
  row_gatherer(const long_table_header& header, int first)
      : header_(header),
        file_(std::make_shared<const std::string>(header.file)),
        seen_(header.columns.size()),
        first_(first) {}

  void add(std::string_view line, int number) {
    if (line.find_first_not_of(" \t\r") == std::string_view::npos) return;
    line_ = number;
    cells_of_line(line, header_.file, number, cells_, unquoted_);
    expect_cells(cells_.size(), header_.columns.size(), header_.file, number);
    entry& into = entry_of_row();
    into.rows.push_back(at_line(node_table{}, number));
    for (std::size_t i = 0; i < cells_.size(); ++i)
      if (!cells_[i].empty()) add_cell(header_.columns[i], i, into);
  }

  node document() && {
    add_defaults();
    node_list run_ups;
    for (auto& each : entries_) {
      each.members.emplace_back("rows", at_line(std::move(each.rows), each.line));
      run_ups.push_back(at_line(std::move(each.members), each.line));
    }
    node_table out{{"format", text(words::record_format)},
                   {"machine", at_line(std::move(machine_), first_)},
                   {"visit", at_line(std::move(visit_), first_)},
                   {"run_up", at_line(std::move(run_ups), first_)}};
    if (!meters_.empty()) out.emplace_back("instruments", at_line(std::move(meters_), first_));
    return at_line(std::move(out), first_);
  }

 private:
  struct entry {
    std::string speed;
    std::string leads;
    int line;
    node_table members;
    node_list rows;
    std::vector<std::string> seen;  ///< first cell of each column
  };

  template <class Value>
  node at_line(Value value, int line) const {
    return {std::move(value), line, file_};
  }

  node text(std::string value) const { return at_line(std::move(value), first_); }

  std::string_view cell_of(std::string_view column) const {
    for (std::size_t i = 0; i < cells_.size(); ++i)
      if (header_.columns[i].name == column) return cells_[i];
    return {};
  }

  /// The run-up that a row belongs to, by its speed and leads.
  entry& entry_of_row() {
    const auto speed = cell_of("speed");
    const auto leads = cell_of("leads");
    for (auto each = entries_.rbegin(); each != entries_.rend(); ++each)
      if (each->speed == speed && each->leads == leads) return *each;
    entries_.push_back(
        {std::string(speed), std::string(leads), line_, {}, {}, std::vector<std::string>(cells_.size())});
    return entries_.back();
  }

  node value_of(const table_column& column, std::string_view cell) const {
    if (column.cells == cell_kind::text) return at_line(std::string(cell), line_);
    if (column.cells == cell_kind::value) return cell_value(cell, line_, file_);
    node_list out;
    for (std::size_t begin = 0; begin <= cell.size();) {
      const auto end = std::min(cell.find(';', begin), cell.size());
      const auto part = cell.substr(begin, end - begin);
      const auto first = std::min(part.find_first_not_of(' '), part.size());
      out.push_back(at_line(std::string(part.substr(first, part.find_last_not_of(' ') + 1 - first)), line_));
      begin = end + 1;
    }
    return at_line(std::move(out), line_);
  }

  /// A value that all rows have in common: kept once, and held against the first.
  void add_common(const table_column& column, std::string_view cell, const char* key, node_table& into,
                  std::string& seen) {
    if (seen.empty()) {
      seen = cell;
      into.emplace_back(key, value_of(column, cell));
      return;
    }
    if (seen == cell) return;
    const auto before = value_of(column, seen), now = value_of(column, cell);
    if (before.value.index() == now.value.index() && column.cells == cell_kind::value &&
        text_of(before) == text_of(now))
      return;
    const bool of_speed = column.kind == column_kind::run_up_key;
    throw error(
        error_code::bad_table, {header_.file, line_, column.name}, std::string(cell),
        std::string("the same value on all rows of one ") + (of_speed ? "speed" : "machine") + ", here " + seen);
  }

  /// A key of an instrument; its column is named instruments.ammeter.reading_percent or the like.
  void add_of_meter(const table_column& column, std::string_view cell, std::string& seen) {
    const auto after = column.name.find('.') + 1;
    const auto dot = column.name.find('.', after);
    const auto meter = column.name.substr(after, dot - after);
    auto there = std::find_if(meters_.begin(), meters_.end(), [&](const auto& each) { return each.first == meter; });
    if (there == meters_.end()) there = meters_.insert(there, {meter, at_line(node_table{}, line_)});
    add_common(column, cell, column.name.c_str() + dot + 1, std::get<node_table>(there->second.value), seen);
  }

  void add_cell(const table_column& column, std::size_t place, entry& into) {
    const auto cell = cells_[place];
    switch (column.kind) {
      case column_kind::machine_id: return add_common(column, cell, "id", machine_, seen_[place]);
      case column_kind::machine_key: return add_common(column, cell, column.name.c_str(), machine_, seen_[place]);
      case column_kind::visit_key: return add_common(column, cell, column.name.c_str(), visit_, seen_[place]);
      case column_kind::meter_key: return add_of_meter(column, cell, seen_[place]);
      case column_kind::run_up_key:
        return add_common(column, cell, column.name.c_str(), into.members, into.seen[place]);
      case column_kind::reading: return add_reading(column.name, value_of(column, cell), into);
      case column_kind::line_reading: {
        auto& row = std::get<node_table>(into.rows.back().value);
        if (row.empty() || row.back().first != column.line->key)
          row.emplace_back(column.line->key, at_line(node_list{}, line_));
        if (auto* lines = std::get_if<node_list>(&row.back().second.value)) lines->push_back(value_of(column, cell));
        return;
      }
    }
  }

  static void add_reading(std::string_view key, node value, entry& into) {
    std::get<node_table>(into.rows.back().value).emplace_back(key, std::move(value));
  }

  void add_defaults() {
    const auto otherwise = [&](node_table& into, const char* key, node value) {
      const bool there = std::any_of(into.begin(), into.end(), [&](const auto& member) { return member.first == key; });
      if (!there) into.emplace_back(key, std::move(value));
    };
    node_list speeds;
    for (const auto& each : entries_)
      if (std::none_of(speeds.begin(), speeds.end(),
                       [&](const node& one) { return std::get<std::string>(one.value) == each.speed; }))
        speeds.push_back(text(each.speed));
    otherwise(machine_, "speeds", at_line(std::move(speeds), first_));
    otherwise(machine_, "phases", at_line(1.0, first_));
    otherwise(machine_, "speed_control", text("unknown"));
    otherwise(machine_, "running_circuit", text("unknown"));
    otherwise(visit_, "state", text("as_found"));
    otherwise(visit_, "date", at_line(header_.day, first_));
  }

  const long_table_header& header_;
  std::shared_ptr<const std::string> file_;
  node_table machine_;
  node_table visit_;
  node_table meters_;
  std::vector<std::string> seen_;
  std::vector<entry> entries_;
  std::vector<std::string_view> cells_;
  std::vector<std::string> unquoted_;
  int first_ = 0;
  int line_ = 0;
};

}  // namespace

visit_record record_from_rows(const long_table_header& header, std::string_view rows, int first) {
  row_gatherer gathered(header, first);
  for (int number = first; !rows.empty(); ++number) {
    const auto end = std::min(rows.find('\n'), rows.size());
    gathered.add(rows.substr(0, end), number);
    rows.remove_prefix(std::min(end + 1, rows.size()));
  }
  return record_from(std::move(gathered).document());
}

}  // namespace rewound::record
