// SPDX-License-Identifier: MIT
#pragma once

#include "kernel_table.hpp"
#include "lanes.hpp"

namespace rewound::fit {
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
REWOUND_IN_LANES lanes of_rows(const double* from, const std::size_t* row, std::size_t stride) {
  if (row[0] == row[lane_count - 1]) return from[row[0] * stride];
  double found[lane_count];
  for (int lane = 0; lane < lane_count; ++lane) found[lane] = from[row[lane] * stride];
  return load_row(found);
}

/// Columns of a table of rows that stand one below the other; the last row has nothing behind it.
template <int columns>
REWOUND_IN_LANES void of_whole_rows(const double* from, lanes* to) {
  if constexpr (columns == 2 || columns == 4) {
    doubles even[2], odd[2];
    for (int i = 0; i < columns / 2; ++i)
      take_two_columns(load(from + 2 * i * register_width), load(from + (2 * i + 1) * register_width), even[i], odd[i]);
    if constexpr (columns == 2) {
      to[0].of = even[0];
      to[1].of = odd[0];
    } else {
      take_two_columns(even[0], even[1], to[0].of, to[2].of);
      take_two_columns(odd[0], odd[1], to[1].of, to[3].of);
    }
  } else {
    int i = 0;
    for (; i + register_width <= columns; i += register_width) {
      doubles block[register_width];
      for (int lane = 0; lane < register_width; ++lane) block[lane] = load(from + lane * columns + i);
      transpose(block);
      for (int j = 0; j < register_width; ++j) to[i + j].of = block[j];
    }
    for (; i < columns; ++i)
      for (int lane = 0; lane < lane_count; ++lane) to[i].set(lane, from[lane * columns + i]);
  }
}

/// What the curves last met share with most of those that follow.
struct kept_numbers {
  lanes degrees = -1.0;
  lanes factor{};
  lanes per_degree{};
  lanes rated{};
  lanes per_rated{};
};

REWOUND_IN_LANES void take_degrees(const prediction_task& task, lanes degrees, kept_numbers& kept) {
  if (!any(~(degrees == kept.degrees))) return;
  kept.degrees = degrees;
  kept.per_degree = choose(degrees > 0.0, 1.0 / degrees, lanes{});
  double factor[lane_count];
  for (int lane = 0; lane < lane_count; ++lane) {
    const int here = static_cast<int>(degrees[lane]);
    const bool known = here >= 0 && here <= task.most_degrees_of_freedom;
    factor[lane] = known ? task.factor[here] : __builtin_nan("");
  }
  kept.factor = load_row(factor);
}

REWOUND_IN_LANES void take_rated(lanes rated, kept_numbers& kept) {
  if (!any(~(rated == kept.rated))) return;
  kept.rated = rated;
  kept.per_rated = 1.0 / rated;
}

template <int parameters>
REWOUND_IN_LANES void gather(const prediction_task& task, const std::size_t* row, bool whole, kept_numbers& kept,
                             curve_group<parameters>& to) {
  constexpr auto count = static_cast<std::size_t>(parameters);
  const fitted_rows& fits = *task.fits;
  if (whole) {
    of_whole_rows<parameters>(fits.parameters + row[0] * count, to.parameter);
    of_whole_rows<parameters * parameters>(fits.covariance + row[0] * count * count, &to.covariance[0][0]);
    take_degrees(task, load_count_row(fits.degrees_of_freedom + row[0]), kept);
    take_rated(load_row(task.at->rated_voltage_V + row[0]), kept);
    to.reading_variance = load_row(fits.chi2 + row[0]);
    if (fits.mean_weight) to.reading_variance = to.reading_variance / load_row(fits.mean_weight + row[0]);
  } else {
    for (std::size_t i = 0; i < count; ++i) to.parameter[i] = of_rows(fits.parameters + i, row, count);
    for (std::size_t i = 0; i < count * count; ++i)
      to.covariance[i / count][i % count] = of_rows(fits.covariance + i, row, count * count);
    lanes degrees{};
    for (int lane = 0; lane < lane_count; ++lane) degrees.set(lane, fits.degrees_of_freedom[row[lane]]);
    take_degrees(task, degrees, kept);
    take_rated(of_rows(task.at->rated_voltage_V, row, 1), kept);
    to.reading_variance = of_rows(fits.chi2, row, 1);
    if (fits.mean_weight) to.reading_variance = to.reading_variance / of_rows(fits.mean_weight, row, 1);
  }
  const lanes variance = to.reading_variance * kept.per_degree;
  to.reading_variance = task.new_reading ? choose(kept.degrees > 0.0, variance, lanes{}) : lanes{};
  to.factor = kept.factor;
  to.per_rated = kept.per_rated;
}

template <int parameters>
struct current_and_gradient {
  lanes value;
  lanes gradient[static_cast<std::size_t>(parameters)];
};

struct power_curve {
  static constexpr int parameters = 2;
  static REWOUND_IN_LANES current_and_gradient<2> at(const lanes* p, lanes, lanes z) {
    const lanes power = exponential(p[1] * z);
    const lanes value = p[0] * power;
    return {value, {power, value * z}};
  }
};

struct log_quadratic_curve {
  static constexpr int parameters = 3;
  static REWOUND_IN_LANES current_and_gradient<3> at(const lanes* p, lanes, lanes z) {
    const lanes value = exponential(p[0] + z * (p[1] + p[2] * z));
    return {value, {value, value * z, value * z * z}};
  }
};

struct magnetising_curve {
  static constexpr int parameters = 3;
  static REWOUND_IN_LANES current_and_gradient<3> at(const lanes* p, lanes x, lanes z) {
    const lanes power = exponential(p[2] * z);
    const lanes bent = p[1] * power;
    return {p[0] * x + bent, {x, power, bent * z}};
  }
};

/// Points that all curves share, and their logarithms while the rated voltages stay the same.
struct kept_points {
  static constexpr std::size_t most_kept = 4;
  lanes per_rated{};
  lanes x[most_kept];
  lanes z[most_kept];
};

REWOUND_IN_LANES bool keep_points(const prediction_points& at, lanes per_rated, kept_points& kept) {
  if (!at.shared || at.count > kept_points::most_kept) return false;
  if (!any(~(per_rated == kept.per_rated))) return true;
  kept.per_rated = per_rated;
  for (std::size_t k = 0; k < at.count; ++k) {
    kept.x[k] = at.voltage_V[k] * per_rated;
    kept.z[k] = logarithm(kept.x[k]);
  }
  return true;
}

struct current_and_half_width {
  lanes value;
  lanes half;
};

template <class Curve>
REWOUND_IN_LANES current_and_half_width predict_at(const curve_group<Curve::parameters>& curves, lanes x, lanes z) {
  const auto here = Curve::at(curves.parameter, x, z);
  lanes variance = curves.reading_variance;
  lanes of_curve{};
  for (int i = 0; i < Curve::parameters; ++i) {
    lanes along{};
    for (int j = 0; j < Curve::parameters; ++j) along += curves.covariance[i][j] * here.gradient[j];
    of_curve += here.gradient[i] * along;
  }
  variance += choose(of_curve < 0.0, lanes{}, of_curve);  // a NaN stays one
  return {here.value, curves.factor * root(variance)};
}

template <class Curve>
REWOUND_IN_LANES void predict_group(const prediction_task& task, const std::size_t* row, int used,
                                    kept_numbers& numbers, kept_points& kept) {
  curve_group<Curve::parameters> curves;
  gather(task, row, used == lane_count, numbers, curves);
  const auto& at = *task.at;
  const bool known = keep_points(at, curves.per_rated, kept);
  const auto predicted = [&](std::size_t k) {
    if (known) return predict_at<Curve>(curves, kept.x[k], kept.z[k]);
    const lanes voltage = at.shared ? lanes(at.voltage_V[k]) : of_rows(at.voltage_V + k, row, at.count);
    const lanes x = voltage * curves.per_rated;
    return predict_at<Curve>(curves, x, logarithm(x));
  };
  const auto& to = *task.answers;
  if (at.count == 2 && used == lane_count) {
    const auto a = predicted(0);
    const auto b = predicted(1);
    store_two_columns(a.value, b.value, to.value_A + 2 * row[0]);
    store_two_columns(a.value - a.half, b.value - b.half, to.low_A + 2 * row[0]);
    store_two_columns(a.value + a.half, b.value + b.half, to.high_A + 2 * row[0]);
    return;
  }
  for (std::size_t k = 0; k < at.count; ++k) {
    const auto here = predicted(k);
    const lanes low = here.value - here.half;
    const lanes high = here.value + here.half;
    for (int lane = 0; lane < used; ++lane) {
      const std::size_t place = row[lane] * at.count + k;
      to.value_A[place] = here.value[lane];
      to.low_A[place] = low[lane];
      to.high_A[place] = high[lane];
    }
  }
}

template <class Curve>
REWOUND_IN_LANES void predict(const prediction_task& task) {
  kept_numbers numbers;
  kept_points kept;
  for (std::size_t index = task.first; index < task.last; index += lane_count) {
    const std::size_t left = task.last - index;
    const int used = left < static_cast<std::size_t>(lane_count) ? static_cast<int>(left) : lane_count;
    std::size_t row[lane_count];
    for (int lane = 0; lane < lane_count; ++lane)
      row[lane] = index + static_cast<std::size_t>(lane < used ? lane : used - 1);
    predict_group<Curve>(task, row, used, numbers, kept);
  }
}

}  // namespace
}  // namespace rewound::fit
