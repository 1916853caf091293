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
  double copied[lane_count][most + register_width];  ///< rows behind which a register would reach out of the array
};

inline void find_rows(const curve_table& table, const double* numbers, const std::size_t* row, table_rows& to) {
  const std::size_t n = table.readings;
  const std::size_t reach = (n + register_length - 1) / register_length * register_length;
  for (int lane = 0; lane < lane_count; ++lane) {
    const double* const from = numbers + row[lane] * n;
    to.at[lane] = from;
    if (row[lane] * n + reach <= table.curves * n) continue;
    for (std::size_t i = 0; i < reach; ++i) to.copied[lane][i] = from[i < n ? i : n - 1];
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
