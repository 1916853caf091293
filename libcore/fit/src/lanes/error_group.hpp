// SPDX-License-Identifier: MIT
#pragma once

#include "readings.hpp"

namespace rewound::fit {
namespace {

/// Readings of as many curves as there are lanes, with errors in both coordinates or with weights. Behind a curve's own
/// readings its last one is repeated with share 0.
struct error_group {
  int readings = 0;  ///< of the curve that has most
  lanes x[most];     ///< voltage over rated voltage
  lanes z[most];     ///< ln x
  lanes current[most];
  lanes log_current[most];
  lanes of_voltage[most];  ///< relative variance of the voltage
  lanes of_current[most];  ///< and of the current
  lanes share[most];       ///< 1, with weights the weight; 0 where there is no reading
  lanes power[most];       ///< x^m, while a search holds m at held_power
  double held_power = 0.0;
  bool robust = false;
  lanes bend;      ///< of Huber's sum
  lanes count;     ///< readings of each curve
  lanes voltages;  ///< different ones
  flags sound;     ///< all readings are numbers that the arithmetic can take
  std::size_t row[lane_count];
  int used = 0;  ///< lanes that hold a curve; the others repeat the last one
};

struct loose_errors {
  double x[most][lane_count];
  double current[most][lane_count];
  double of_voltage[most][lane_count];
  double of_current[most][lane_count];
  double share[most][lane_count];
  double count[lane_count];
  double sound[lane_count];  ///< 1 or 0
};

/// Relative standard uncertainties where none are stated; row_reader takes the same.
constexpr double assumed_of_voltage = 0.005;
constexpr double assumed_of_current = 0.01;

/// One row; absent readings and those of weight 0 are left out.
inline void take_errors(const curve_table& table, std::size_t row, int lane, loose_errors& to) {
  const std::size_t start = row * table.readings;
  const double rated = table.rated_voltage_V[row];
  bool sound = speakable(rated);
  const double per_rated = 1.0 / rated;
  int count = 0;
  for (std::size_t i = start; i < start + table.readings; ++i) {
    const double voltage = table.voltage_V[i];
    const double current = table.current_A[i];
    if (voltage != voltage || current != current) continue;
    const double weight = table.weight ? table.weight[i] : 1.0;
    const double u_voltage = table.voltage_u_V ? table.voltage_u_V[i] / voltage : assumed_of_voltage;
    const double u_current = table.current_u_A ? table.current_u_A[i] / current : assumed_of_current;
    sound = sound && speakable(voltage) && speakable(current) && (weight == 0.0 || speakable(weight)) &&
            u_voltage >= 0.0 && u_voltage < 1e30 && u_current > 1e-30 && u_current < 1e30;
    if (!sound || weight == 0.0) continue;
    to.x[count][lane] = voltage * per_rated;
    to.current[count][lane] = current;
    to.of_voltage[count][lane] = u_voltage * u_voltage;
    to.of_current[count][lane] = u_current * u_current;
    to.share[count][lane] = weight;
    ++count;
  }
  to.count[lane] = sound ? count : 0;
  to.sound[lane] = sound ? 1.0 : 0.0;
}

inline void repeat_last(loose_errors& of, int lane, int from, int readings) {
  const int last = static_cast<int>(of.count[from]) - 1;
  of.count[lane] = of.count[from];
  of.sound[lane] = of.sound[from];
  for (int i = 0; i < readings; ++i) {
    const int like = i < last ? i : last;
    of.x[i][lane] = last < 0 ? 1.0 : of.x[like][from];
    of.current[i][lane] = last < 0 ? 1.0 : of.current[like][from];
    of.of_voltage[i][lane] = last < 0 ? 1.0 : of.of_voltage[like][from];
    of.of_current[i][lane] = last < 0 ? 1.0 : of.of_current[like][from];
    of.share[i][lane] = i <= last ? of.share[i][from] : 0.0;
  }
}

inline void count_voltages(error_group& g) {
  g.voltages = lanes{};
  for (int i = 0; i < g.readings; ++i) {
    flags met = ~(g.count > i);
    for (int j = 0; j < i; ++j) met |= g.x[i] == g.x[j];
    g.voltages += choose(met, lanes{}, 1.0);
  }
}

/// The curves from `index` of a task on.
inline void pack_errors(const fit_task& task, std::size_t index, error_group& g) {
  loose_errors from;
  const std::size_t left = task.last - index;
  g.used = left < static_cast<std::size_t>(lane_count) ? static_cast<int>(left) : lane_count;
  g.readings = 1;
  for (int lane = 0; lane < g.used; ++lane) {
    const std::size_t place = index + static_cast<std::size_t>(lane);
    g.row[lane] = task.rows ? task.rows[place] : place;
    take_errors(*task.table, g.row[lane], lane, from);
    if (from.count[lane] > g.readings) g.readings = static_cast<int>(from.count[lane]);
  }
  for (int lane = 0; lane < lane_count; ++lane) repeat_last(from, lane, lane < g.used ? lane : g.used - 1, g.readings);
  g.count = load_row(from.count);
  g.sound = load_row(from.sound) == 1.0;
  for (int i = 0; i < g.readings; ++i) {
    g.x[i] = load_row(from.x[i]);
    g.z[i] = logarithm(g.x[i]);
    g.current[i] = load_row(from.current[i]);
    g.log_current[i] = logarithm(g.current[i]);
    g.of_voltage[i] = load_row(from.of_voltage[i]);
    g.of_current[i] = load_row(from.of_current[i]);
    g.share[i] = load_row(from.share[i]);
  }
  count_voltages(g);
}

/// Answers of a group: parameters and covariance by place in their row, the covariance not scaled by any scatter.
template <std::size_t parameters>
struct error_answers {
  lanes parameter[parameters];
  lanes covariance[parameters * parameters];
  lanes chi2;
  lanes unit_variance;  ///< mean relative variance that the meters give a reading; with weights 1
  flags certified;
  flags settled;  ///< see lacks_covariance
  flags near;     ///< see near_the_lowest
};

template <std::size_t parameters>
void unpack_errors(const error_group& g, const error_answers<parameters>& from, const fit_table& to) {
  constexpr std::size_t p = parameters;
  const flags few = g.sound & (g.count < static_cast<double>(p));
  const lanes weight = total_of(g.share, g.readings) / g.count;
  for (int lane = 0; lane < g.used; ++lane) {
    const std::size_t row = g.row[lane];
    for (std::size_t i = 0; i < p; ++i) to.parameters[row * p + i] = from.parameter[i][lane];
    for (std::size_t i = 0; i < p * p; ++i) to.covariance[row * p * p + i] = from.covariance[i][lane];
    to.chi2[row] = from.chi2[lane];
    to.unit_variance[row] = from.unit_variance[lane];
    if (to.mean_weight) to.mean_weight[row] = weight[lane];
    to.degrees_of_freedom[row] = static_cast<int>(g.count[lane]) - static_cast<int>(parameters);
    to.certified[row] = from.certified[lane] ? 1
                        : from.settled[lane] ? lacks_covariance
                        : from.near[lane]    ? near_the_lowest
                        : few[lane]          ? too_few_readings
                                             : 0;
  }
}

template <std::size_t parameters, class Fit>
void for_each_error_group(const fit_task& task, const Fit& fit) {
  error_group g;
  g.robust = task.robust;
  for (std::size_t index = task.first; index < task.last; index += lane_count) {
    pack_errors(task, index, g);
    error_answers<parameters> answers;
    fit(g, answers);
    unpack_errors(g, answers, *task.answers);
  }
}

}  // namespace
}  // namespace rewound::fit
