// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <vector>

#include <rewound/base/registers.hpp>
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

}  // namespace rewound::checks::detail

#define REWOUND_KERNEL <rewound/checks/detail/impl/curve_evidence_lanes.hpp>
#include <rewound/base/impl/each_width.hpp>

namespace rewound::checks::detail {

/// Answers of all kinds, in registers of this width.
inline kernel_answers weighed_kinds(const std::vector<kernel_point>& points, int width) {
  kernel_answers out(points.size(), laned_kinds::of_width(static_cast<std::size_t>(width)).lanes);
#ifdef REWOUND_WIDE_LANES
  if (width == 8) {
    lanes_8::weigh_kinds(points, out);
    return out;
  }
  if (width == 4) {
    lanes_4::weigh_kinds(points, out);
    return out;
  }
#endif
  lanes_2::weigh_kinds(points, out);
  return out;
}

}  // namespace rewound::checks::detail
