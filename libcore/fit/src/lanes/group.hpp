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
  lanes per_freedom;  ///< 1 over the degrees of freedom
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

/// Columns of a table whose lanes are rows, eight (or so) at a time.
REWOUND_IN_LANES void load_columns(const double* table, std::size_t stride, int readings, lanes* columns) {
  for (int j = 0; j < readings; j += register_width) {
    doubles block[register_width];
#pragma GCC unroll 8
    for (int i = 0; i < register_width; ++i) block[i] = load(table + static_cast<std::size_t>(i) * stride + j);
    transpose(block);
    for (int i = 0; i < register_width && j + i < readings; ++i) columns[j + i].of = block[i];
  }
}

/// Finds numbers outside what the arithmetic can take, NaN among them: as whole numbers, those from least to largest
/// lie together, and all others beyond them.
struct range_check {
  bits furthest{};

  REWOUND_IN_LANES void add(doubles value) {
    furthest = greater(furthest, (bits)value - __builtin_bit_cast(unsigned long long, least_number));
  }
  REWOUND_IN_LANES void add(lanes value) { add(value.of); }

  REWOUND_IN_LANES bool passed() const {
    constexpr unsigned long long span =
        __builtin_bit_cast(unsigned long long, largest_number) - __builtin_bit_cast(unsigned long long, least_number);
    return !any_above(furthest, span);
  }
};

/// Voltages over rated voltages, where they are asked for, and their logarithms. A row like the one before costs no
/// logarithm.
template <bool with_x>
REWOUND_IN_LANES void load_voltages(const double* voltage, const double* rated, std::size_t stride, int readings,
                                    group& g, range_check& check) {
  for (int j = 0, block = 0; j < readings; j += register_width, ++block) {
    doubles x[register_width], z[register_width];
#pragma GCC unroll 8
    for (int i = 0; i < register_width; ++i) {
      const doubles row = load(voltage + static_cast<std::size_t>(i) * stride + j);
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

/// Rows that stand one below the other and lack nothing; false where they do.
template <bool with_x>
REWOUND_IN_LANES bool pack_whole(const curve_table& table, std::size_t first, group& g) {
  const int n = static_cast<int>(table.readings);
  const int loaded = (n + register_width - 1) / register_width * register_width;
  const std::size_t start = first * table.readings;
  // The last block of a row reaches into the next one; behind the last row there is nothing to read.
  if (start + (lane_count - 1) * table.readings + static_cast<std::size_t>(loaded) > table.curves * table.readings)
    return false;
  range_check check;
  load_voltages<with_x>(table.voltage_V + start, table.rated_voltage_V + first, table.readings, n, g, check);
  load_columns(table.current_A + start, table.readings, n, g.current);
  load_columns(table.weight + start, table.readings, n, g.weight);
  check.add(load_row(table.rated_voltage_V + first));
  for (int i = 0; i < n; ++i) {
    check.add(g.current[i]);
    check.add(g.weight[i]);
  }
  if (!check.passed()) return false;
  g.readings = n;
  g.count = lanes(n);
  g.sound = all_flags();
  return true;
}

/// Readings of some rows while they are sorted into lanes.
struct loose_readings {
  double voltage[most][lane_count];
  double current[most][lane_count];
  double weight[most][lane_count];
  double rated[lane_count];
  double count[lane_count];
  double sound[lane_count];  ///< 1 or 0
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
  to.sound[lane] = sound ? 1.0 : 0.0;
}

/// A curve by itself in every lane.
inline void pack_one(const curve_table& table, group& g) {
  loose_readings from;
  take_row(table, g.row[0], 0, from);
  g.readings = static_cast<int>(from.count[0]);
  g.count = from.count[0];
  g.sound = lanes(from.sound[0]) == 1.0;
  const double inverse = 1.0 / (from.sound[0] != 0.0 ? from.rated[0] : 1.0);
  for (int i = 0; i < g.readings; i += register_width) {
    double x[register_width] = {};
    for (int j = 0; j < register_width; ++j) x[j] = i + j < g.readings ? from.voltage[i + j][0] * inverse : 1.0;
    const doubles z = logarithm(load(x));
    for (int j = 0; j < register_width && i + j < g.readings; ++j) {
      g.x[i + j] = x[j];
      g.z[i + j] = z[j];
      g.current[i + j] = from.current[i + j][0];
      g.weight[i + j] = from.weight[i + j][0];
    }
  }
}

inline void pack_loose(const curve_table& table, group& g) {
  loose_readings from;
  g.readings = 0;
  for (int lane = 0; lane < g.used; ++lane) {
    take_row(table, g.row[lane], lane, from);
    if (from.count[lane] > g.readings) g.readings = static_cast<int>(from.count[lane]);
  }
  for (int lane = 0; lane < lane_count; ++lane) {
    const int of = lane < g.used ? lane : g.used - 1;
    const int last = static_cast<int>(from.count[of]) - 1;
    from.count[lane] = from.count[of];
    from.sound[lane] = from.sound[of];
    from.rated[lane] = from.sound[of] != 0.0 ? from.rated[of] : 1.0;
    for (int i = 0; i < g.readings; ++i) {
      const int like = i < last ? i : last;
      from.voltage[i][lane] = last < 0 ? from.rated[lane] : from.voltage[like][of];
      from.current[i][lane] = last < 0 ? 1.0 : from.current[like][of];
      from.weight[i][lane] = i <= last ? from.weight[i][of] : 0.0;
    }
  }
  g.count = load_row(from.count);
  g.sound = load_row(from.sound) == 1.0;
  const lanes inverse = 1.0 / load_row(from.rated);
  for (int i = 0; i < g.readings; ++i) {
    g.x[i] = load_row(from.voltage[i]) * inverse;
    g.z[i] = logarithm(g.x[i]);
    g.current[i] = load_row(from.current[i]);
    g.weight[i] = load_row(from.weight[i]);
  }
}

/// The curves from `index` of a task on; true where they stand one below the other and lack nothing.
template <bool with_x>
REWOUND_IN_LANES bool pack(const fit_task& task, std::size_t index, group& g) {
  const std::size_t left = task.last - index;
  g.used = left < static_cast<std::size_t>(lane_count) ? static_cast<int>(left) : lane_count;
  for (int lane = 0; lane < g.used; ++lane)
    g.row[lane] =
        task.rows ? task.rows[index + static_cast<std::size_t>(lane)] : index + static_cast<std::size_t>(lane);
  if (!task.rows && g.used == lane_count && pack_whole<with_x>(*task.table, index, g)) return true;
  if (g.used == 1) pack_one(*task.table, g);
  else pack_loose(*task.table, g);
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
  if (whole) {
    unpack_whole(from, g.row[0], to);
    store(from.chi2, to.chi2 + g.row[0]);
    store_mask(from.certified.of, to.certified + g.row[0]);
    store_counts((g.count - parameters).of, to.degrees_of_freedom + g.row[0]);
    return;
  }
  for (int lane = 0; lane < g.used; ++lane) {
    unpack_lane(g, from, lane, to);
    to.degrees_of_freedom[g.row[lane]] = static_cast<int>(g.count[lane]) - parameters;
    to.certified[g.row[lane]] = from.certified[lane];
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
    g.per_freedom = 1.0 / (g.count - parameters);
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
