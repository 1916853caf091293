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

/// One number of each row.
REWOUND_INLINE lanes of_rows(const double* from, const std::size_t* row, std::size_t stride) {
#if REWOUND_LANES == 8
  return lanes{from[row[0] * stride], from[row[1] * stride], from[row[2] * stride], from[row[3] * stride],
               from[row[4] * stride], from[row[5] * stride], from[row[6] * stride], from[row[7] * stride]};
#elif REWOUND_LANES == 4
  return lanes{from[row[0] * stride], from[row[1] * stride], from[row[2] * stride], from[row[3] * stride]};
#else
  return lanes{from[row[0] * stride], from[row[1] * stride]};
#endif
}

template <int parameters>
REWOUND_INLINE void gather(const prediction_task& task, const std::size_t* row, curve_group<parameters>& to) {
  constexpr auto count = static_cast<std::size_t>(parameters);
  for (std::size_t i = 0; i < count; ++i) {
    to.parameter[i] = of_rows(task.fits->parameters + i, row, count);
    for (std::size_t j = 0; j < count; ++j)
      to.covariance[i][j] = of_rows(task.fits->covariance + i * count + j, row, count * count);
  }
  double factor[lane_count];
  double degrees[lane_count];
  for (int lane = 0; lane < lane_count; ++lane) {
    const int here = task.fits->degrees_of_freedom[row[lane]];
    const bool known = here >= 0 && here <= task.most_degrees_of_freedom;
    factor[lane] = known ? task.factor[here] : __builtin_nan("");
    degrees[lane] = here;
  }
  to.factor = load(factor);
  const lanes of = load(degrees);
  to.reading_variance = task.new_reading ? (of > 0.0 ? of_rows(task.fits->chi2, row, 1) / of : lanes{}) : lanes{};
  to.per_rated = 1.0 / of_rows(task.at->rated_voltage_V, row, 1);
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
    const lanes voltage = task.at->shared ? all_lanes(task.at->voltage_V[k]) : of_rows(task.at->voltage_V + k, row, points);
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
