// SPDX-License-Identifier: MIT
#pragma once

#include "kernel_table.hpp"
#include "lanes.hpp"

namespace rewound::curves {
namespace {

constexpr int most = static_cast<int>(most_readings);
/// Registers that hold a row.
constexpr int blocks = (most + lane_count - 1) / lane_count;
constexpr int common_readings = 8;  ///< of a run-up

/// The readings of as many curves as there are lanes. Those present come first; behind them weights are 0.
struct group {
  int readings = 0;  ///< of the curve that has most
  lanes x[most];     ///< voltage over rated voltage
  lanes z[most];     ///< ln x
  lanes current[most];
  lanes weight[most];
  lanes count;  ///< readings of each curve
  flags sound;  ///< all readings are numbers that the arithmetic can take
  std::size_t row[lane_count];
  int used = 0;  ///< lanes that hold a curve; the others repeat the last one

  // The row of voltages last read: the next one is often the same, as the speeds of a machine are.
  lanes last_voltage[blocks];
  lanes last_x[blocks];
  lanes last_z[blocks];
  double last_rated[blocks] = {};
};

/// The same with a number of readings that is known when this is compiled, filled up with readings of weight 0: loops
/// then have no counter, and their arrays stand in registers.
template <int fixed>
struct group_of : group {
  static constexpr int readings = fixed;
};

/// Numbers outside go to the careful method, so that no product here overflows.
constexpr double least_number = 1e-100;
constexpr double largest_number = 1e100;

REWOUND_INLINE bool speakable(double value) { return value >= least_number && value <= largest_number; }

/// One column of a table whose lanes are rows, eight (or so) columns at a time.
REWOUND_INLINE void load_columns(const double* table, std::size_t stride, int readings, lanes* columns) {
  for (int j = 0; j < readings; j += lane_count) {
    lanes block[lane_count];
#pragma GCC unroll 8
    for (int i = 0; i < lane_count; ++i) block[i] = load(table + static_cast<std::size_t>(i) * stride + j);
    transpose(block);
    for (int i = 0; i < lane_count && j + i < readings; ++i) columns[j + i] = block[i];
  }
}

/// Voltages over rated voltages and their logarithms. A row like the one before costs no logarithm.
REWOUND_INLINE void load_voltages(const double* voltage, const double* rated, std::size_t stride, int readings,
                                  group& g) {
  for (int j = 0, block = 0; j < readings; j += lane_count, ++block) {
    lanes x[lane_count], z[lane_count];
#pragma GCC unroll 8
    for (int i = 0; i < lane_count; ++i) {
      const lanes row = load(voltage + static_cast<std::size_t>(i) * stride + j);
      if (rated[i] != g.last_rated[block] || any(row != g.last_voltage[block])) {
        g.last_voltage[block] = row;
        g.last_rated[block] = rated[i];
        g.last_x[block] = row * (1.0 / rated[i]);
        g.last_z[block] = logarithm(g.last_x[block]);
      }
      x[i] = g.last_x[block];
      z[i] = g.last_z[block];
    }
    transpose(x);
    transpose(z);
    for (int i = 0; i < lane_count && j + i < readings; ++i) {
      g.x[j + i] = x[i];
      g.z[j + i] = z[i];
    }
  }
}

/// Finds numbers outside what the arithmetic can take, NaN among them.
struct range_check {
  lanes low = all_lanes(1.0);
  lanes high = all_lanes(1.0);
  lanes sum{};

  REWOUND_INLINE void add(lanes value) {
    low = lesser(low, value);
    high = greater(high, value);
    sum += value;  // keeps a NaN that the comparisons lose
  }

  REWOUND_INLINE bool passed() const {
    return !any(~((low >= least_number) & (high <= largest_number) & (sum <= 1e102)));
  }
};

/// Rows that stand one below the other and lack nothing; false where they do.
REWOUND_INLINE bool pack_whole(const curve_table& table, std::size_t first, group& g) {
  const int n = static_cast<int>(table.readings);
  const int loaded = (n + lane_count - 1) / lane_count * lane_count;
  const std::size_t start = first * table.readings;
  // The last block of a row reaches into the next one; behind the last row there is nothing to read.
  if (start + (lane_count - 1) * table.readings + static_cast<std::size_t>(loaded) > table.curves * table.readings)
    return false;
  load_voltages(table.voltage_V + start, table.rated_voltage_V + first, table.readings, n, g);
  load_columns(table.current_A + start, table.readings, n, g.current);
  load_columns(table.weight + start, table.readings, n, g.weight);
  range_check check;
  check.add(load(table.rated_voltage_V + first));
  for (int i = 0; i < n; ++i) {
    check.add(g.x[i]);
    check.add(g.current[i]);
    check.add(g.weight[i]);
  }
  if (!check.passed()) return false;
  g.readings = n;
  g.count = all_lanes(n);
  g.sound = flags{} - 1;
  return true;
}

/// Readings of some rows while they are sorted into lanes.
struct loose_readings {
  double voltage[most][lane_count];
  double current[most][lane_count];
  double weight[most][lane_count];
  double rated[lane_count];
  int count[lane_count];
  bool sound[lane_count];
};

/// One row; absent readings and those of weight 0 are left out.
inline void take_row(const curve_table& table, std::size_t row, int lane, loose_readings& to) {
  const std::size_t start = row * table.readings;
  int count = 0;
  to.rated[lane] = table.rated_voltage_V[row];
  bool sound = speakable(to.rated[lane]);
  for (std::size_t i = start; i < start + table.readings; ++i) {
    const double voltage = table.voltage_V[i];
    const double current = table.current_A[i];
    const double weight = table.weight[i];
    if (voltage != voltage || current != current) continue;
    if (!speakable(voltage) || !speakable(current) || !(weight == 0.0 || speakable(weight))) sound = false;
    if (!sound || weight == 0.0) continue;
    to.voltage[count][lane] = voltage;
    to.current[count][lane] = current;
    to.weight[count][lane] = weight;
    ++count;
  }
  to.count[lane] = sound ? count : 0;
  to.sound[lane] = sound;
}

/// A curve by itself in every lane.
inline void repeat_first_lane(group& g, lanes* voltage, lanes& rated) {
  g.count = all_lanes(g.count[0]);
  g.sound = flags{} + g.sound[0];
  rated = all_lanes(rated[0]);
  for (int i = 0; i < g.readings; ++i) {
    voltage[i] = all_lanes(voltage[i][0]);
    g.current[i] = all_lanes(g.current[i][0]);
    g.weight[i] = all_lanes(g.weight[i][0]);
  }
}

inline void pack_loose(const curve_table& table, group& g) {
  loose_readings from;
  g.readings = 0;
  for (int lane = 0; lane < g.used; ++lane) {
    take_row(table, g.row[lane], lane, from);
    if (from.count[lane] > g.readings) g.readings = from.count[lane];
  }
  lanes voltage[most];
  lanes rated{};
  for (int lane = 0; lane < lane_count; ++lane) {
    const int of = lane < g.used ? lane : g.used - 1;
    if (g.used == 1 && lane == 1) break;
    const int count = from.count[of];
    g.count[lane] = count;
    g.sound[lane] = from.sound[of] ? -1 : 0;
    rated[lane] = from.sound[of] ? from.rated[of] : 1.0;
    for (int i = 0; i < g.readings; ++i) {
      const bool here = i < count;
      voltage[i][lane] = here ? from.voltage[i][of] : rated[lane];
      g.current[i][lane] = here ? from.current[i][of] : 1.0;
      g.weight[i][lane] = here ? from.weight[i][of] : 0.0;
    }
  }
  if (g.used == 1) repeat_first_lane(g, voltage, rated);
  const lanes inverse = 1.0 / rated;
  for (int i = 0; i < g.readings; ++i) {
    g.x[i] = voltage[i] * inverse;
    g.z[i] = logarithm(g.x[i]);
  }
}

/// The curves from `index` of a task on.
REWOUND_INLINE void pack(const fit_task& task, std::size_t index, group& g) {
  const std::size_t left = task.last - index;
  g.used = left < static_cast<std::size_t>(lane_count) ? static_cast<int>(left) : lane_count;
  for (int lane = 0; lane < g.used; ++lane)
    g.row[lane] = task.rows ? task.rows[index + static_cast<std::size_t>(lane)]
                            : index + static_cast<std::size_t>(lane);
  if (!task.rows && g.used == lane_count && pack_whole(*task.table, index, g)) return;
  pack_loose(*task.table, g);
}

/// Answers of a group, parameters and covariance by place in their row.
template <int parameters>
struct group_answers {
  static constexpr auto length = static_cast<std::size_t>(parameters);
  lanes parameter[length];
  lanes covariance[length * length];
  lanes chi2;
  flags certified;
};

/// A row of two parameters and one of four covariances a curve, all curves of the group standing one below the other.
REWOUND_INLINE void unpack_whole(const group_answers<2>& from, std::size_t row, const fit_table& to) {
  store_two_columns(from.parameter[0], from.parameter[1], to.parameters + 2 * row);
  const auto even = interleave(from.covariance[0], from.covariance[2]);
  const auto odd = interleave(from.covariance[1], from.covariance[3]);
  store_two_columns(even.first, odd.first, to.covariance + 4 * row);
  store_two_columns(even.second, odd.second, to.covariance + 4 * row + 2 * lane_count);
}

REWOUND_INLINE void unpack_whole(const group_answers<3>& from, std::size_t row, const fit_table& to) {
  for (std::size_t lane = 0; lane < static_cast<std::size_t>(lane_count); ++lane) {
    for (std::size_t i = 0; i < 3; ++i) to.parameters[(row + lane) * 3 + i] = from.parameter[i][lane];
    for (std::size_t i = 0; i < 9; ++i) to.covariance[(row + lane) * 9 + i] = from.covariance[i][lane];
  }
}

template <int parameters>
REWOUND_INLINE void unpack_lane(const group& g, const group_answers<parameters>& from, int lane, const fit_table& to) {
  constexpr auto length = static_cast<std::size_t>(parameters);
  const std::size_t row = g.row[lane];
  for (std::size_t i = 0; i < length; ++i) to.parameters[row * length + i] = from.parameter[i][lane];
  for (std::size_t i = 0; i < length * length; ++i) to.covariance[row * length * length + i] = from.covariance[i][lane];
  to.chi2[row] = from.chi2[lane];
}

template <int parameters>
REWOUND_INLINE void unpack(const group& g, bool whole, const group_answers<parameters>& from, const fit_table& to) {
  if (whole) {
    unpack_whole(from, g.row[0], to);
    store(from.chi2, to.chi2 + g.row[0]);
  }
  for (int lane = 0; lane < g.used; ++lane) {
    if (!whole) unpack_lane(g, from, lane, to);
    to.degrees_of_freedom[g.row[lane]] = static_cast<int>(g.count[lane]) - parameters;
    to.certified[g.row[lane]] = from.certified[lane] != 0;
  }
}

/// Readings without weight behind the others.
REWOUND_INLINE void fill_up(group& g, int to) {
  for (int i = g.readings; i < to; ++i) {
    g.weight[i] = g.z[i] = lanes{};
    g.x[i] = g.current[i] = all_lanes(1.0);
  }
}

/// Goes through a task by groups. Which code a curve takes is told by the width of its table alone, not by the curves
/// beside it: rounding may differ between the two.
template <int parameters, class Fit>
REWOUND_INLINE void for_each_group(const fit_task& task, const Fit& fit) {
  group_of<common_readings> whole;
  group& g = whole;
  const bool common = task.table->readings <= common_readings;
  for (std::size_t index = task.first; index < task.last; index += lane_count) {
    pack(task, index, g);
    group_answers<parameters> answers;
    if (common) {
      fill_up(g, common_readings);
      fit(whole, answers);
    } else {
      fit(g, answers);
    }
    unpack(g, !task.rows && g.used == lane_count, answers, *task.answers);
  }
}

}  // namespace
}  // namespace rewound::curves
