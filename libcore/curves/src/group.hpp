// SPDX-License-Identifier: MIT
#pragma once

#include "kernel_table.hpp"
#include "lanes.hpp"

namespace rewound::curves {
namespace {

constexpr int most = static_cast<int>(most_readings);
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

  // What the logarithms were taken of, for the next group may be read at the same voltages.
  lanes voltage[most];
  lanes rated;
  int logarithms = 0;
};

/// The same where every curve has as many readings as it may be known when this is compiled: loops then have no
/// counter, and their arrays stand in registers.
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

/// The logarithms of group.voltage over group.rated; where they are those of the group before, nothing is to do.
REWOUND_INLINE void take_logarithms(group& g, const lanes* voltage, lanes rated) {
  if (g.logarithms == g.readings) {
    flags other = rated != g.rated;
    for (int i = 0; i < g.readings; ++i) other |= voltage[i] != g.voltage[i];
    if (!any(other)) return;
  }
  g.rated = rated;
  const lanes inverse = 1.0 / rated;
  for (int i = 0; i < g.readings; ++i) {
    g.voltage[i] = voltage[i];
    g.x[i] = voltage[i] * inverse;
    g.z[i] = logarithm(g.x[i]);
  }
  g.logarithms = g.readings;
}

/// Rows that stand one below the other and lack nothing; false where they do, and then nothing is changed.
REWOUND_INLINE bool pack_whole(const curve_table& table, std::size_t first, group& g) {
  const int n = static_cast<int>(table.readings);
  const int loaded = (n + lane_count - 1) / lane_count * lane_count;
  const std::size_t start = first * table.readings;
  // The last block of a row reaches into the next one; behind the last row there is nothing to read.
  if (start + (lane_count - 1) * table.readings + static_cast<std::size_t>(loaded) > table.curves * table.readings)
    return false;
  lanes voltage[most];
  load_columns(table.voltage_V + start, table.readings, n, voltage);
  load_columns(table.current_A + start, table.readings, n, g.current);
  load_columns(table.weight + start, table.readings, n, g.weight);
  const lanes rated = load(table.rated_voltage_V + first);
  lanes low = rated;
  lanes high = rated;
  lanes sum = rated;
  for (int i = 0; i < n; ++i) {
    low = lesser(lesser(low, voltage[i]), lesser(g.current[i], g.weight[i]));
    high = greater(greater(high, voltage[i]), greater(g.current[i], g.weight[i]));
    sum += voltage[i] + g.current[i] + g.weight[i];  // keeps a NaN that the comparisons lose
  }
  if (any(~((low >= least_number) & (high <= largest_number) & (sum <= 1e102)))) return false;
  g.readings = n;
  g.count = all_lanes(n);
  g.sound = flags{} - 1;
  take_logarithms(g, voltage, rated);
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

inline void pack_loose(const curve_table& table, group& g) {
  loose_readings from;
  g.readings = 0;
  for (int lane = 0; lane < g.used; ++lane) {
    take_row(table, g.row[lane], lane, from);
    if (from.count[lane] > g.readings) g.readings = from.count[lane];
  }
  lanes voltage[most];
  lanes rated;
  for (int lane = 0; lane < lane_count; ++lane) {
    const int of = lane < g.used ? lane : g.used - 1;
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
  g.logarithms = 0;  // of other numbers of readings
  take_logarithms(g, voltage, rated);
  g.logarithms = 0;
}

/// The curves from `index` of a task on.
REWOUND_INLINE void pack(const fit_task& task, std::size_t index, group& g) {
  const std::size_t left = task.last - index;
  g.used = left < static_cast<std::size_t>(lane_count) ? static_cast<int>(left) : lane_count;
  for (int lane = 0; lane < g.used; ++lane)
    g.row[lane] = task.rows ? task.rows[index + static_cast<std::size_t>(lane)] : index + static_cast<std::size_t>(lane);
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

template <int parameters>
REWOUND_INLINE void unpack(const group& g, const group_answers<parameters>& from, const fit_table& to) {
  constexpr int squares = parameters * parameters;
  for (int lane = 0; lane < g.used; ++lane) {
    const std::size_t row = g.row[lane];
    for (int i = 0; i < parameters; ++i) to.parameters[row * parameters + static_cast<std::size_t>(i)] = from.parameter[i][lane];
    for (int i = 0; i < squares; ++i) to.covariance[row * squares + static_cast<std::size_t>(i)] = from.covariance[i][lane];
    to.chi2[row] = from.chi2[lane];
    to.degrees_of_freedom[row] = static_cast<int>(g.count[lane]) - parameters;
    to.certified[row] = from.certified[lane] != 0;
  }
}

/// Goes through a task by groups; those of the commonest length by code of their own.
template <int parameters, class Fit>
REWOUND_INLINE void for_each_group(const fit_task& task, const Fit& fit) {
  group_of<common_readings> whole;
  group& g = whole;
  for (std::size_t index = task.first; index < task.last; index += lane_count) {
    pack(task, index, g);
    group_answers<parameters> answers;
    if (g.readings == common_readings) fit(whole, answers);
    else fit(g, answers);
    unpack(g, answers, *task.answers);
  }
}

}  // namespace
}  // namespace rewound::curves
