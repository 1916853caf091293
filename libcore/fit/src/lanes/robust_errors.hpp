// SPDX-License-Identifier: MIT
#pragma once

#include "box_kernel.hpp"
#include "median.hpp"

namespace rewound::fit {
namespace {

template <std::size_t parameters>
struct huber_point : reading_point<parameters> {
  lanes share;   ///< Huber's weight, in `weight` already
  lanes excess;  ///< by how much the reading adds more to Huber's sum than to the one with his weights
};

/// Huber's sum over the deviations of a problem, bent at g.bend: a reading beyond it pulls with constant force.
template <class Problem>
struct huber_sum {
  static constexpr std::size_t parameters = Problem::parameters;
  static constexpr bool weighted = Problem::weighted;
  static REWOUND_IN_LANES huber_point<parameters> at(const error_group& g, int i, const lanes* p) {
    huber_point<parameters> out{Problem::at(g, i, p), 1.0, lanes{}};
    const lanes size = root(out.weight) * size_of(out.deviation);
    out.share = choose(size > g.bend, g.bend * reciprocal(size), lanes(1.0));
    out.weight *= out.share;
    out.excess = out.weight * out.deviation * out.deviation * (1.0 - out.share);
    return out;
  }
};

/// Goes on from a plain curve to Huber's, and leaves his weights in the shares. A curve without readings to spare
/// stays; where rounding is all that is left, the scale is none.
template <class Problem>
flags settle_robustly(error_group& g, const lane_box<Problem::parameters>& box, lanes rounding,
                      box_state<Problem::parameters>& at) {
  using robust = huber_sum<Problem>;
  constexpr int most_descent = 40;
  constexpr double beyond_rounding = 1e6;
  lanes squares[most];
  for (int i = 0; i < g.readings; ++i) {
    const auto here = Problem::at(g, i, at.p);
    squares[i] = choose(g.share[i] > 0.0, here.weight * here.deviation * here.deviation, absent_square);
  }
  const flags to_spare = g.count > static_cast<double>(Problem::parameters);
  g.bend = choose(to_spare, huber_bend * median_root(squares, g.readings, 0, g.count), unbounded);
  const flags scattered = g.bend * g.bend > beyond_rounding * rounding;
  start_at<robust>(g, box, at);
  descend<robust>(g, box, rounding, most_descent, at);
  const flags good = settle_somehow<robust>(g, box, rounding, at);
  for (int i = 0; i < g.readings; ++i) g.share[i] *= robust::at(g, i, at.p).share;
  at.sums = sums_at<Problem>(g, at.p);
  return good & scattered;
}

}  // namespace
}  // namespace rewound::fit
