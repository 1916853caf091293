// SPDX-License-Identifier: MIT
#include "batch_sources.hpp"

#include <algorithm>
#include <chrono>

#include <rewound/base/checksum.hpp>
#include <rewound/base/error.hpp>

#include "line_reader.hpp"
#include "machine_rows.hpp"

namespace rewound::record {

namespace {

using base::error;
using base::error_code;

/// More rows of one machine than this are no run-ups; held in memory they would have no bound.
constexpr int most_rows = 10000;

/// Sixty-four bits of each name seen, in open addressing at most half full: 16 to 32 bytes a name. Of a million names
/// two share their bits with probability 3e-8.
class names_seen {
 public:
  /// @return false for a name that was added before
  bool add(std::string_view name) {
    if (2 * (count_ + 1) > slots_.size()) grow();
    const auto mixed = base::checksum_of(name);
    const auto key = mixed == 0 ? 1 : mixed;
    auto& slot = slot_of(slots_, key);
    if (slot == key) return false;
    slot = key;
    ++count_;
    return true;
  }

 private:
  static std::uint64_t& slot_of(std::vector<std::uint64_t>& slots, std::uint64_t key) {
    std::size_t at = (key * 0x9e3779b97f4a7c15ull >> 20) & (slots.size() - 1);
    while (slots[at] != 0 && slots[at] != key) at = (at + 1) & (slots.size() - 1);
    return slots[at];
  }

  void grow() {
    std::vector<std::uint64_t> wider(std::max<std::size_t>(1024, 2 * slots_.size()));
    for (const auto key : slots_)
      if (key != 0) slot_of(wider, key) = key;
    slots_ = std::move(wider);
  }

  std::vector<std::uint64_t> slots_;
  std::size_t count_ = 0;
};

date day_of_change(const std::string& path) {
  const auto system = std::chrono::file_clock::to_sys(std::filesystem::last_write_time(path));
  const std::chrono::year_month_day day{std::chrono::floor<std::chrono::days>(system)};
  return {static_cast<int>(day.year()), static_cast<int>(static_cast<unsigned>(day.month())),
          static_cast<int>(static_cast<unsigned>(day.day()))};
}

bool blank(std::string_view line) { return line.find_first_not_of(" \t\r") == std::string_view::npos; }

/// Rows of one machine as they stand in the file.
struct row_block {
  std::string rows;
  int first = 0;
  int count = 0;
  bool came_back = false;

  void add(std::string_view line) {
    if (count < most_rows) rows.append(line).push_back('\n');
    ++count;
  }
};

class long_table_source final : public batch_source {
 public:
  explicit long_table_source(const std::string& path) : path_(path), lines_(path) {
    auto header = std::make_shared<long_table_header>();
    header->file = path;
    header->day = day_of_change(path);
    read_header(*header);
    header_ = std::move(header);
    if (!next_row()) throw error(error_code::empty_list, {path, 0, ""}, "no rows", "at least one row");
  }

  std::optional<batch_item> next() override {
    if (!row_) return std::nullopt;
    const std::string machine(machine_);
    auto block = std::make_shared<row_block>();
    block->first = lines_.number();
    block->came_back = !seen_.add(machine);
    do block->add(*row_);
    while (next_row(block.get()) && machine_ == machine);
    return batch_item{machine, path_ + ":" + std::to_string(block->first),
                      [block, header = header_] { return read(*header, *block); }};
  }

  std::uint64_t fingerprint(const std::string&) const override { return file_fingerprint(path_); }

 private:
  static visit_record read(const long_table_header& header, const row_block& block) {
    if (block.came_back)
      throw error(error_code::repeated, {header.file, block.first, "machine"}, "a machine whose rows came before",
                  "the rows of a machine together");
    if (block.count > most_rows)
      throw error(error_code::bad_table, {header.file, block.first, "machine"},
                  std::to_string(block.count) + " rows of one machine", std::to_string(most_rows) + " rows or fewer");
    return record_from_rows(header, block.rows, block.first);
  }

  void read_header(long_table_header& out) {
    std::optional<std::string_view> line;
    do line = lines_.next();
    while (line && blank(*line));
    if (!line) throw error(error_code::empty_file, {path_, 0, ""}, "an empty file", "a header line and rows");
    if (line->starts_with("\xef\xbb\xbf")) line->remove_prefix(3);
    cells_of_line(*line, path_, lines_.number(), cells_, unquoted_);
    out.columns = table_columns({cells_.begin(), cells_.end()}, path_, lines_.number());
    while (out.columns[out.machine].kind != column_kind::machine_id) ++out.machine;
  }

  /// Goes on to the next row, and to the machine it names; blank lines go to the block, so that its lines can be
  /// counted.
  bool next_row(row_block* block = nullptr) {
    do {
      row_ = lines_.next();
      if (row_ && blank(*row_) && block != nullptr) block->add("");
    } while (row_ && blank(*row_));
    if (!row_) return false;
    split_cells(*row_, cells_, unquoted_);
    machine_ = header_->machine < cells_.size() ? cells_[header_->machine] : std::string_view{};
    return true;
  }

  std::string path_;
  line_reader lines_;
  std::shared_ptr<const long_table_header> header_;
  std::optional<std::string_view> row_;
  std::string_view machine_;
  std::vector<std::string_view> cells_;
  std::vector<std::string> unquoted_;
  names_seen seen_;
};

}  // namespace

std::unique_ptr<batch_source> long_table(const std::string& path) { return std::make_unique<long_table_source>(path); }

}  // namespace rewound::record
