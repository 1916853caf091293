// SPDX-License-Identifier: MIT
#pragma once

#include "kernel_table.hpp"
#include "lanes.hpp"

namespace rewound::curves {
namespace {

/// Fitted curves side by side.
template <int parameters>
struct curve_group {
  static constexpr auto length = static_cast<std::size_t>(parameters);
  lanes parameter[length];
  lanes covariance[length][length];
  lanes reading_variance;
  lanes factor;
  lanes per_rated;
};

template <int parameters>
REWOUND_INLINE void gather(const prediction_task& task, const std::size_t* row, curve_group<parameters>& to) {
  constexpr auto count = static_cast<std::size_t>(parameters);
  lanes rated;
  for (int lane = 0; lane < lane_count; ++lane) {
    const double* parameter = task.fits->parameters + row[lane] * count;
    const double* covariance = task.fits->covariance + row[lane] * count * count;
    for (int i = 0; i < parameters; ++i) to.parameter[i][lane] = parameter[i];
    for (int i = 0; i < parameters; ++i)
      for (int j = 0; j < parameters; ++j) to.covariance[i][j][lane] = covariance[i * parameters + j];
    const int degrees = task.fits->degrees_of_freedom[row[lane]];
    const bool known = degrees >= 0 && degrees <= task.most_degrees_of_freedom;
    to.factor[lane] = known ? task.factor[degrees] : __builtin_nan("");
    to.reading_variance[lane] = degrees > 0 && task.new_reading ? task.fits->chi2[row[lane]] / degrees : 0.0;
    rated[lane] = task.at->rated_voltage_V[row[lane]];
  }
  to.per_rated = 1.0 / rated;
}

template <int parameters>
struct current_and_gradient {
  lanes value;
  lanes gradient[static_cast<std::size_t>(parameters)];
};

struct power_curve {
  static constexpr int parameters = 2;
  static REWOUND_INLINE current_and_gradient<2> at(const lanes* p, lanes x) {
    const lanes z = logarithm(x);
    const lanes power = exponential(p[1] * z);
    const lanes value = p[0] * power;
    return {value, {power, value * z}};
  }
};

struct log_quadratic_curve {
  static constexpr int parameters = 3;
  static REWOUND_INLINE current_and_gradient<3> at(const lanes* p, lanes x) {
    const lanes z = logarithm(x);
    const lanes value = exponential(p[0] + z * (p[1] + p[2] * z));
    return {value, {value, value * z, value * z * z}};
  }
};

struct magnetising_curve {
  static constexpr int parameters = 3;
  static REWOUND_INLINE current_and_gradient<3> at(const lanes* p, lanes x) {
    const lanes z = logarithm(x);
    const lanes power = exponential(p[2] * z);
    const lanes bent = p[1] * power;
    return {p[0] * x + bent, {x, power, bent * z}};
  }
};

template <class Curve>
REWOUND_INLINE void predict_group(const prediction_task& task, const std::size_t* row, int used) {
  constexpr int parameters = Curve::parameters;
  curve_group<parameters> curves;
  gather(task, row, curves);
  const std::size_t points = task.at->count;
  for (std::size_t k = 0; k < points; ++k) {
    lanes voltage;
    for (int lane = 0; lane < lane_count; ++lane)
      voltage[lane] = task.at->voltage_V[task.at->shared ? k : row[lane] * points + k];
    const auto here = Curve::at(curves.parameter, voltage * curves.per_rated);
    lanes variance{};
    for (int i = 0; i < parameters; ++i) {
      lanes along{};
      for (int j = 0; j < parameters; ++j) along += curves.covariance[i][j] * here.gradient[j];
      variance += here.gradient[i] * along;
    }
    variance = variance < 0.0 ? lanes{} : variance;  // a NaN stays one
    const lanes half = curves.factor * root(variance + curves.reading_variance);
    const lanes low = here.value - half;
    const lanes high = here.value + half;
    for (int lane = 0; lane < used; ++lane) {
      const std::size_t place = row[lane] * points + k;
      task.answers->value_A[place] = here.value[lane];
      task.answers->low_A[place] = low[lane];
      task.answers->high_A[place] = high[lane];
    }
  }
}

template <class Curve>
REWOUND_INLINE void predict(const prediction_task& task) {
  for (std::size_t index = task.first; index < task.last; index += lane_count) {
    const std::size_t left = task.last - index;
    const int used = left < static_cast<std::size_t>(lane_count) ? static_cast<int>(left) : lane_count;
    std::size_t row[lane_count];
    for (int lane = 0; lane < lane_count; ++lane)
      row[lane] = index + static_cast<std::size_t>(lane < used ? lane : used - 1);
    predict_group<Curve>(task, row, used);
  }
}

}  // namespace
}  // namespace rewound::curves
