// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <vector>

#include <rewound/base/lanes.hpp>
#include <rewound/machine/curve_shapes.hpp>

// The loops behind curve_evidence.hpp: kinds of curve, each with each size of extra scatter, side by side in a
// register.
namespace rewound::checks::detail {

/// Readings may scatter more than their meters say: standard deviations of ln I beyond them, and how often (common
/// practice, no source).
struct extra_scatter {
  double deviation;
  double share;
};
inline constexpr std::array<extra_scatter, 4> extra_scatters{
    {{0.002, 0.45}, {0.006, 0.25}, {0.013, 0.20}, {0.025, 0.10}}};

/// A wrong reading lies off by ten percent or so, or by a decimal place (shares: common practice, no source).
inline constexpr std::array<extra_scatter, 2> blunder_sizes{{{0.12, 0.6}, {1.5, 0.4}}};

inline constexpr double level_variance = 25.0;  ///< of ln I at rated voltage: nothing is known of it

/// Shape functions and the level: what all readings of a curve share.
inline constexpr std::size_t shape_count = machine::shape_function_count;
inline constexpr std::size_t shared_count = shape_count + 1;
inline constexpr std::size_t triangle_count = shape_count * (shape_count + 1) / 2;

/// A reading as the loops take it: log current, its own variance, and the shape functions there.
struct kernel_point {
  double log_current;
  double variance;
  std::array<double, shape_count> values;
};

/// All kinds with all sizes of scatter, one a lane: mean of the coefficients, factor of their covariance row by row,
/// variance of the scatter, ln of the prior weight. The last register is filled up with lanes of no weight.
struct laned_kinds {
  static constexpr std::size_t entries = shape_count + triangle_count + 2;
  std::size_t lanes = 0;  ///< of all registers
  std::vector<double> values;

  explicit laned_kinds(std::size_t width) {
    constexpr double never = -1e300;
    const auto& kinds = machine::curve_kinds();
    const std::size_t count = kinds.size() * extra_scatters.size();
    lanes = (count + width - 1) / width * width;
    values.resize(lanes * entries);
    for (std::size_t lane = 0; lane < lanes; ++lane) {
      const auto& kind = kinds[std::min(lane, count - 1) / extra_scatters.size()];
      const auto& scatter = extra_scatters[lane % extra_scatters.size()];
      double* out = values.data() + lane / width * width * entries + lane % width;
      for (std::size_t a = 0; a < shape_count; ++a, out += width) *out = kind.mean[a];
      for (std::size_t a = 0; a < shape_count; ++a)
        for (std::size_t b = 0; b <= a; ++b, out += width) *out = kind.factor[a][b];
      *out = scatter.deviation * scatter.deviation;
      out[width] = lane < count ? std::log(kind.weight * scatter.share) : never;
    }
  }

  static const laned_kinds& of_width(std::size_t width) {
    static const std::array<laned_kinds, 3> all{laned_kinds(2), laned_kinds(4), laned_kinds(8)};
    return all[width == 8 ? 2 : width == 4 ? 1 : 0];
  }
};

/// What each lane says: ln of its evidence, and of each point (one row a point) ln of its evidence with this point
/// freed to be wrong, ln of that of the other points, and what those make one expect here.
struct kernel_answers {
  std::vector<double> log_evidence, log_freed, log_others, mean, variance;

  kernel_answers(std::size_t points, std::size_t lanes)
      : log_evidence(lanes),
        log_freed(points * lanes),
        log_others(points * lanes),
        mean(points * lanes),
        variance(points * lanes) {}
};

/// A point in the lanes of one register: residuals from the kinds' means, how each depends on what all points share
/// (standard normal numbers), and the variance that is its own.
template <int Width>
struct register_point {
  using numbers = typename base::lane_types<Width>::numbers;
  numbers residual, own;
  std::array<numbers, shared_count> loading;
};

template <int Width>
REWOUND_IN_LANES void look_at(const kernel_point& point, const double* kind, register_point<Width>& out) {
  using numbers = typename base::lane_types<Width>::numbers;
  numbers entry;
  out.residual = numbers{} + point.log_current;
  for (std::size_t a = 0; a < shape_count; ++a) {
    base::load<Width>(entry, kind + a * Width);
    out.residual -= point.values[a] * entry;
  }
  for (std::size_t b = 0; b < shape_count; ++b) out.loading[b] = numbers{};
  const double* factor = kind + shape_count * Width;
  for (std::size_t a = 0; a < shape_count; ++a)
    for (std::size_t b = 0; b <= a; ++b, factor += Width) {
      base::load<Width>(entry, factor);
      out.loading[b] += point.values[a] * entry;
    }
  base::load<Width>(entry, factor);
  out.own = point.variance + entry;
  out.loading[shape_count] = numbers{} + __builtin_sqrt(level_variance);
}

/// What all points of one register's kinds come to, by Woodbury's identity, so that the work grows with their number
/// and not with its cube: the inner matrix, then its factors L D L^T, which need no roots; and what the residuals come
/// to in it.
template <int Width>
struct register_sums {
  using numbers = typename base::lane_types<Width>::numbers;
  std::array<std::array<numbers, shared_count>, shared_count> inner;
  std::array<numbers, shared_count> solved, inverse;  ///< 1 / D
  numbers log_determinant{}, square{};
};

template <int Width>
REWOUND_IN_LANES void add_points(const std::vector<kernel_point>& points, const double* kind,
                                 register_sums<Width>& sums) {
  using numbers = typename base::lane_types<Width>::numbers;
  for (std::size_t a = 0; a < shared_count; ++a) {
    sums.solved[a] = numbers{};
    for (std::size_t b = 0; b <= a; ++b) sums.inner[a][b] = numbers{} + (a == b ? 1.0 : 0.0);
  }
  register_point<Width> point;
  for (const auto& each : points) {
    look_at<Width>(each, kind, point);
    numbers log_own = point.own;
    base::to_logarithm<Width>(log_own);
    sums.log_determinant += log_own;
    const numbers weight = 1.0 / point.own;
    for (std::size_t a = 0; a < shared_count; ++a) {
      const numbers scaled = point.loading[a] * weight;
      sums.solved[a] += scaled * point.residual;
      for (std::size_t b = 0; b <= a; ++b) sums.inner[a][b] += scaled * point.loading[b];
    }
  }
}

template <int Width>
REWOUND_IN_LANES void take_apart(register_sums<Width>& sums) {
  using numbers = typename base::lane_types<Width>::numbers;
  auto& inner = sums.inner;
  for (std::size_t j = 0; j < shared_count; ++j) {
    for (std::size_t k = 0; k < j; ++k) {
      inner[j][j] -= inner[j][k] * inner[j][k] * inner[k][k];
      sums.solved[j] -= inner[j][k] * sums.solved[k];
    }
    sums.inverse[j] = 1.0 / inner[j][j];
    for (std::size_t i = j + 1; i < shared_count; ++i) {
      for (std::size_t k = 0; k < j; ++k) inner[i][j] -= inner[i][k] * inner[j][k] * inner[k][k];
      inner[i][j] = inner[i][j] * sums.inverse[j];
    }
    numbers log_diagonal = inner[j][j];
    base::to_logarithm<Width>(log_diagonal);
    sums.log_determinant += log_diagonal;
  }
}

/// By how much the evidence gains in ln where one point is freed to be a blunder.
///
/// @param diagonal  the point's element on the diagonal of the inverse
/// @param pull      its row of the inverse times the residuals; becomes the gain
template <int Width>
REWOUND_IN_LANES void to_gain_of_freedom(const typename base::lane_types<Width>::numbers& diagonal,
                                         typename base::lane_types<Width>::numbers& pull) {
  using numbers = typename base::lane_types<Width>::numbers;
  static_assert(blunder_sizes.size() == 2);
  std::array<numbers, 2> freed;
  for (std::size_t b = 0; b < 2; ++b) {
    const double variance = blunder_sizes[b].deviation * blunder_sizes[b].deviation;
    const numbers widened = 1.0 + variance * diagonal;
    numbers log_widened = widened;
    base::to_logarithm<Width>(log_widened);
    freed[b] = 0.5 * (variance * pull * pull / widened - log_widened);
  }
  const numbers top = freed[0] > freed[1] ? freed[0] : freed[1];
  for (auto& each : freed) {
    each -= top;
    base::to_exponential<Width>(each);
  }
  numbers sum = blunder_sizes[0].share * freed[0] + blunder_sizes[1].share * freed[1];
  base::to_logarithm<Width>(sum);
  pull = top + sum;
}

/// What is said of one point, without the evidence of all, which is not known yet.
template <int Width>
REWOUND_IN_LANES void weigh_point(const kernel_point& seen, const double* kind, std::size_t at,
                                  register_sums<Width>& sums, kernel_answers& out) {
  using numbers = typename base::lane_types<Width>::numbers;
  register_point<Width> point;
  look_at<Width>(seen, kind, point);
  numbers common{}, explained{};
  for (std::size_t a = 0; a < shared_count; ++a) {
    for (std::size_t k = 0; k < a; ++k) point.loading[a] -= sums.inner[a][k] * point.loading[k];
    const numbers along = point.loading[a] * sums.inverse[a];
    common += along * sums.solved[a];
    explained += along * point.loading[a];
  }
  const numbers weight = 1.0 / point.own;
  const numbers pull = (point.residual - common) * weight;
  const numbers diagonal = (1.0 - explained * weight) * weight;
  sums.square += pull * point.residual;
  numbers log_diagonal = diagonal, gain = pull;
  base::to_logarithm<Width>(log_diagonal);
  to_gain_of_freedom<Width>(diagonal, gain);
  const numbers others = 0.5 * (pull * pull / diagonal - log_diagonal);
  const numbers mean = seen.log_current - pull / diagonal;
  const numbers variance = 1.0 / diagonal;
  base::store<Width>(out.log_freed.data() + at, gain);
  base::store<Width>(out.log_others.data() + at, others);
  base::store<Width>(out.mean.data() + at, mean);
  base::store<Width>(out.variance.data() + at, variance);
}

template <int Width>
REWOUND_IN_LANES void weigh_register(const std::vector<kernel_point>& points, const double* kind, std::size_t first,
                                     std::size_t lanes, kernel_answers& out) {
  using numbers = typename base::lane_types<Width>::numbers;
  register_sums<Width> sums;
  add_points<Width>(points, kind, sums);
  take_apart<Width>(sums);
  for (std::size_t i = 0; i < points.size(); ++i) weigh_point<Width>(points[i], kind, i * lanes + first, sums, out);
  numbers prior, of_point;
  base::load<Width>(prior, kind + (laned_kinds::entries - 1) * Width);
  const numbers evidence = prior - 0.5 * (sums.square + sums.log_determinant);
  base::store<Width>(out.log_evidence.data() + first, evidence);
  for (std::size_t i = 0; i < points.size(); ++i)
    for (auto* each : {&out.log_freed, &out.log_others}) {
      base::load<Width>(of_point, each->data() + i * lanes + first);
      of_point += evidence;
      base::store<Width>(each->data() + i * lanes + first, of_point);
    }
}

template <int Width>
REWOUND_IN_LANES void weigh_kinds(const std::vector<kernel_point>& points, kernel_answers& out) {
  const auto& kinds = laned_kinds::of_width(Width);
  for (std::size_t first = 0; first < kinds.lanes; first += Width)
    weigh_register<Width>(points, kinds.values.data() + first * laned_kinds::entries, first, kinds.lanes, out);
}

inline void weigh_kinds_plain(const std::vector<kernel_point>& points, kernel_answers& out) {
  weigh_kinds<2>(points, out);
}
#ifdef REWOUND_WIDE_LANES
REWOUND_WITH_AVX2 inline void weigh_kinds_avx2(const std::vector<kernel_point>& points, kernel_answers& out) {
  weigh_kinds<4>(points, out);
}
REWOUND_WITH_AVX512 inline void weigh_kinds_avx512(const std::vector<kernel_point>& points, kernel_answers& out) {
  weigh_kinds<8>(points, out);
}
#endif

/// Answers of all kinds, in registers of this width.
inline kernel_answers weighed_kinds(const std::vector<kernel_point>& points, int width) {
  kernel_answers out(points.size(), laned_kinds::of_width(static_cast<std::size_t>(width)).lanes);
#ifdef REWOUND_WIDE_LANES
  if (width == 8) {
    weigh_kinds_avx512(points, out);
    return out;
  }
  if (width == 4) {
    weigh_kinds_avx2(points, out);
    return out;
  }
#endif
  weigh_kinds_plain(points, out);
  return out;
}

}  // namespace rewound::checks::detail
