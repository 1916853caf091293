// SPDX-License-Identifier: MIT
#pragma once

#include "readings.hpp"

namespace rewound::fit {
namespace {

/// Registers that hold the readings of a curve.
constexpr int blocks = (most + register_width - 1) / register_width;
constexpr int common_readings = 8;  ///< of a run-up

/// The readings of as many curves as there are lanes. Those present come first; behind them the last one is repeated
/// with weight 0.
struct group {
  int readings = 0;  ///< of the curve that has most
  lanes x[most];     ///< voltage over rated voltage
  lanes z[most];     ///< ln x
  lanes current[most];
  lanes weight[most];
  int alike = 0;      ///< readings of each curve where all have as many, else 0
  lanes count;        ///< readings of each curve
  lanes per_freedom;  ///< 1 over the degrees of freedom; NaN where there are none
  flags sound;        ///< all readings are numbers that the arithmetic can take
  std::size_t row[lane_count];
  int used = 0;  ///< lanes that hold a curve; the others repeat the last one

  // The row of voltages last read: the next one is often the same, as the speeds of a machine are.
  doubles last_voltage[blocks];
  doubles last_x[blocks];
  doubles last_z[blocks];
  double last_rated[blocks] = {};
};

/// The same with a number of readings that is known when this is compiled, filled up with readings of weight 0: loops
/// then have no counter, and their arrays stand in registers.
template <int fixed>
struct group_of : group {
  static constexpr int readings = fixed;
};

/// Finds numbers outside what the arithmetic can take, NaN among them: as whole numbers, those from least to largest
/// lie together, and all others beyond them.
struct range_check {
  bits furthest{};

  REWOUND_IN_LANES void add(doubles value) {
    furthest = greater(furthest, (bits)value - __builtin_bit_cast(unsigned long long, least_number));
  }
  REWOUND_IN_LANES void add(lanes value) { add(value.of); }

  /// In which lanes there was one.
  REWOUND_IN_LANES flags failed() const {
    constexpr unsigned long long span =
        __builtin_bit_cast(unsigned long long, largest_number) - __builtin_bit_cast(unsigned long long, least_number);
    return {above(furthest, span)};
  }
};

/// Voltages over rated voltages, where they are asked for, and their logarithms. A row like the one before costs no
/// logarithm.
template <bool with_x>
REWOUND_IN_LANES void load_voltages(const table_rows& voltage, const double* rated, int readings, group& g,
                                    range_check& check) {
  for (int j = 0, block = 0; j < readings; j += register_width, ++block) {
    doubles x[register_width], z[register_width];
#pragma GCC unroll 8
    for (int i = 0; i < register_width; ++i) {
      const doubles row = load(voltage.at[i] + j);
      if (rated[i] != g.last_rated[block] || any(static_cast<mask>(~same(row, g.last_voltage[block])))) {
        g.last_voltage[block] = row;
        g.last_rated[block] = rated[i];
        g.last_x[block] = row * (1.0 / rated[i]);
        g.last_z[block] = logarithm(g.last_x[block]);
      }
      check.add(g.last_x[block]);
      x[i] = g.last_x[block];
      z[i] = g.last_z[block];
    }
    if (with_x) transpose(x);
    transpose(z);
    for (int i = 0; i < register_width && j + i < readings; ++i) {
      if (with_x) g.x[j + i].of = x[i];
      g.z[j + i].of = z[i];
    }
  }
}

/// Leaves out absent readings and those of weight 0: their places are taken by the curve's last one with weight 0, so
/// that no number is met that the others would not meet. Columns in which no curve has a reading go. Of a curve with a
/// reading that is not sound none counts.
inline void leave_out(lanes rated, group& g) {
  flags counts[most];
  lanes last_voltage = rated;
  lanes last_current = 1.0;
  range_check check;
  check.add(rated);
  for (int i = 0; i < g.readings; ++i) {
    const flags present = (g.x[i] == g.x[i]) & (g.current[i] == g.current[i]);
    counts[i] = present & ~(g.weight[i] == 0.0);
    check.add(choose(present, g.x[i], 1.0));
    check.add(choose(present, g.current[i], 1.0));
    check.add(choose(counts[i], g.weight[i], 1.0));
    last_voltage = choose(counts[i], g.x[i], last_voltage);
    last_current = choose(counts[i], g.current[i], last_current);
  }
  g.sound = ~check.failed();
  const lanes inverse = 1.0 / choose(g.sound, rated, 1.0);
  const lanes last_x = choose(g.sound, last_voltage * inverse, 1.0);
  last_current = choose(g.sound, last_current, 1.0);
  g.count = lanes{};
  int kept = 0;
  for (int i = 0; i < g.readings; ++i) {
    const flags here = counts[i] & g.sound;
    if (!any(here)) continue;
    g.count += choose(here, 1.0, lanes{});
    g.x[kept] = choose(here, g.x[i] * inverse, last_x);
    g.z[kept] = logarithm(g.x[kept]);
    g.current[kept] = choose(here, g.current[i], last_current);
    g.weight[kept] = choose(here, g.weight[i], lanes{});
    ++kept;
  }
  g.readings = kept;
}

/// The curves from `index` of a task on; true where they stand one below the other and lack nothing.
template <bool with_x>
REWOUND_IN_LANES bool pack(const fit_task& task, std::size_t index, group& g) {
  const curve_table& table = *task.table;
  const std::size_t left = task.last - index;
  g.used = left < register_length ? static_cast<int>(left) : lane_count;
  double gathered[lane_count];
  const double* rated = table.rated_voltage_V + index;
  if (!task.rows && g.used == lane_count) {
    for (int lane = 0; lane < lane_count; ++lane) g.row[lane] = index + static_cast<std::size_t>(lane);
  } else {
    for (int lane = 0; lane < lane_count; ++lane) {
      const std::size_t place = index + static_cast<std::size_t>(lane < g.used ? lane : g.used - 1);
      g.row[lane] = task.rows ? task.rows[place] : place;
      gathered[lane] = table.rated_voltage_V[g.row[lane]];
    }
    rated = gathered;
  }
  table_rows rows;
  g.readings = static_cast<int>(table.readings);
  range_check check;
  check.add(load(rated));
  find_rows(table, table.current_A, g.row, rows);
  load_columns(rows, table.readings, g.current);
  find_rows(table, table.weight, g.row, rows);
  load_columns(rows, table.readings, g.weight);
  for (int i = 0; i < g.readings; ++i) {
    check.add(g.current[i]);
    check.add(g.weight[i]);
  }
  find_rows(table, table.voltage_V, g.row, rows);
  if (!any(check.failed())) load_voltages<with_x>(rows, rated, g.readings, g, check);
  if (!any(check.failed())) {
    g.count = lanes(g.readings);
    g.sound = all_flags();
    return true;
  }
  load_columns(rows, table.readings, g.x);
  leave_out(load_row(rated), g);
  return false;
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

/// Whether a variance is told; a curve without readings to spare has none.
REWOUND_IN_LANES flags told(const group& g, lanes variance) {
  return finite(variance) | ~(g.per_freedom == g.per_freedom);
}

/// A row of two parameters and one of four covariances a curve, all curves of the group standing one below the other.
REWOUND_IN_LANES void unpack_whole(const group_answers<2>& from, std::size_t row, const fit_table& to) {
  store_two_columns(from.parameter[0], from.parameter[1], to.parameters + 2 * row);
  doubles pair[4], whole[4];
  for (int i = 0; i < 2; ++i)
    give_two_columns(from.covariance[i].of, from.covariance[i + 2].of, pair[2 * i], pair[2 * i + 1]);
  give_two_columns(pair[0], pair[2], whole[0], whole[1]);
  give_two_columns(pair[1], pair[3], whole[2], whole[3]);
  for (int i = 0; i < 4; ++i) store(whole[i], to.covariance + 4 * row + i * register_width);
}

REWOUND_IN_LANES void unpack_whole(const group_answers<3>& from, std::size_t row, const fit_table& to) {
  for (int lane = 0; lane < lane_count; ++lane) {
    const std::size_t place = row + static_cast<std::size_t>(lane);
    for (std::size_t i = 0; i < 3; ++i) to.parameters[place * 3 + i] = from.parameter[i][lane];
    for (std::size_t i = 0; i < 9; ++i) to.covariance[place * 9 + i] = from.covariance[i][lane];
  }
}

template <int parameters>
REWOUND_IN_LANES void unpack_lane(const group& g, const group_answers<parameters>& from, int lane,
                                  const fit_table& to) {
  constexpr auto length = static_cast<std::size_t>(parameters);
  const std::size_t row = g.row[lane];
  for (std::size_t i = 0; i < length; ++i) to.parameters[row * length + i] = from.parameter[i][lane];
  for (std::size_t i = 0; i < length * length; ++i) to.covariance[row * length * length + i] = from.covariance[i][lane];
  to.chi2[row] = from.chi2[lane];
}

template <int parameters>
REWOUND_IN_LANES void unpack(const group& g, bool whole, const group_answers<parameters>& from, const fit_table& to) {
  const flags few = g.sound & (g.count < parameters);
  const lanes mean_weight = total_of(g.weight, g.readings) / g.count;
  if (whole) {
    if (to.mean_weight) store(mean_weight, to.mean_weight + g.row[0]);
    unpack_whole(from, g.row[0], to);
    store(from.chi2, to.chi2 + g.row[0]);
    store_mask(from.certified.of, to.certified + g.row[0]);
    store_counts((g.count - parameters).of, to.degrees_of_freedom + g.row[0]);
    if (any(few))
      for (int lane = 0; lane < lane_count; ++lane)
        if (few[lane]) to.certified[g.row[lane]] = too_few_readings;
    return;
  }
  for (int lane = 0; lane < g.used; ++lane) {
    unpack_lane(g, from, lane, to);
    if (to.mean_weight) to.mean_weight[g.row[lane]] = mean_weight[lane];
    to.degrees_of_freedom[g.row[lane]] = static_cast<int>(g.count[lane]) - parameters;
    to.certified[g.row[lane]] = few[lane] ? too_few_readings : from.certified[lane];
  }
}

/// Rows that will be read soon, and places that will be written, on their way into the cache meanwhile.
template <int parameters>
REWOUND_IN_LANES void ask_for(const fit_task& task, std::size_t index) {
  constexpr std::size_t ahead = 4 * lane_count;
  constexpr std::size_t line = 8;
  if (task.rows || index + ahead + lane_count > task.table->curves) return;
  const std::size_t row = index + ahead;
  const auto read = [&](const double* table, std::size_t width) {
    for (std::size_t i = 0; i < width * lane_count; i += line) __builtin_prefetch(table + row * width + i, 0);
  };
  const auto write = [&](const double* table, std::size_t width) {
    for (std::size_t i = 0; i < width * lane_count; i += line) __builtin_prefetch(table + row * width + i, 1);
  };
  read(task.table->voltage_V, task.table->readings);
  read(task.table->current_A, task.table->readings);
  read(task.table->weight, task.table->readings);
  write(task.answers->parameters, parameters);
  write(task.answers->covariance, parameters * parameters);
}

/// Readings without weight behind the others, like the last of these: no number is met that they would not meet.
REWOUND_IN_LANES void fill_up(group& g, int to) {
  const int last = g.readings > 0 ? g.readings - 1 : 0;
  if (g.readings == 0) g.x[0] = g.current[0] = 1.0, g.z[0] = g.weight[0] = lanes{};
  for (int i = g.readings; i < to; ++i) {
    g.weight[i] = lanes{};
    g.x[i] = g.x[last];
    g.z[i] = g.z[last];
    g.current[i] = g.current[last];
  }
}

/// Goes through a task by groups. Which code a curve takes is told by the width of its table alone, not by the curves
/// beside it: rounding may differ between the two.
template <int parameters, bool with_x, class Fit>
REWOUND_IN_LANES void for_each_group(const fit_task& task, const Fit& fit) {
  group_of<common_readings> whole;
  group& g = whole;
  const bool common = task.table->readings <= common_readings;
  for (std::size_t index = task.first; index < task.last; index += lane_count) {
    ask_for<parameters>(task, index);
    const bool lacking_nothing = pack<with_x>(task, index, g);
    g.alike = lacking_nothing ? g.readings : 0;
    g.per_freedom = choose(g.count > parameters, 1.0 / (g.count - parameters), __builtin_nan(""));
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
}  // namespace rewound::fit
