// SPDX-License-Identifier: MIT
#pragma once

#include "kernel_table.hpp"
#include "lanes.hpp"

namespace rewound::fit {
namespace {

constexpr int most = static_cast<int>(most_readings);

/// Numbers outside go to the careful method, so that no product here overflows.
constexpr double least_number = 1e-100;
constexpr double largest_number = 1e100;

REWOUND_IN_LANES bool speakable(double value) { return value >= least_number && value <= largest_number; }

/// Some rows of one of a table's arrays.
struct table_rows {
  const double* at[lane_count];
  double copied[lane_count][most + register_width];  ///< where behind a row a register would reach out of the array
};

REWOUND_IN_LANES void find_rows(const curve_table& table, const double* numbers, const std::size_t* row,
                                table_rows& to) {
  const std::size_t n = table.readings;
  for (int lane = 0; lane < lane_count; ++lane) to.at[lane] = numbers + row[lane] * n;
  const std::size_t reach = (n + register_length - 1) / register_length * register_length;
  const double* const end = numbers + table.curves * n;
  // Rows come in ascending order.
  if (static_cast<std::size_t>(end - to.at[lane_count - 1]) >= reach) return;
  for (int lane = 0; lane < lane_count; ++lane) {
    for (std::size_t i = 0; i < reach; ++i) to.copied[lane][i] = to.at[lane][i < n ? i : n - 1];
    to.at[lane] = to.copied[lane];
  }
}

/// Columns of a table whose lanes are rows, eight (or so) at a time.
REWOUND_IN_LANES void load_columns(const table_rows& rows, std::size_t readings, lanes* columns) {
  for (std::size_t j = 0; j < readings; j += register_length) {
    doubles block[register_width];
#pragma GCC unroll 8
    for (int i = 0; i < register_width; ++i) block[i] = load(rows.at[i] + j);
    transpose(block);
    for (std::size_t i = 0; i < register_length && j + i < readings; ++i) columns[j + i].of = block[i];
  }
}

REWOUND_IN_LANES lanes total_of(const lanes* values, int count) {
  lanes out{};
  for (int i = 0; i < count; ++i) out += values[i];
  return out;
}

}  // namespace
}  // namespace rewound::fit
