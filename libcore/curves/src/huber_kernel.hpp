// SPDX-License-Identifier: MIT
#pragma once

#include "power_kernel.hpp"

namespace rewound::curves {
namespace {

REWOUND_INLINE void order(lanes& a, lanes& b) {
  const lanes low = lesser(a, b);
  b = greater(a, b);
  a = low;
}

/// Sorts each lane. Source: merge exchange, D. E. Knuth, The Art of Computer Programming 3, 2nd ed., 5.2.2 M.
REWOUND_INLINE void sort(lanes* values, int count) {
  int top = 1;
  while (2 * top < count) top *= 2;
  for (int p = top; p > 0; p /= 2) {
    int q = top;
    int r = 0;
    int d = p;
    while (true) {
      for (int i = 0; i < count - d; ++i)
        if ((i & p) == r) order(values[i], values[i + d]);
      if (q == p) break;
      d = q - p;
      q /= 2;
      r = p;
    }
  }
}

/// Median of sqrt(w) |I - f| of each curve, from its squares.
template <class Group>
REWOUND_INLINE lanes median_deviation(const Group& g, const power_state& at, lanes level) {
  lanes square[most];
  for (int i = 0; i < g.readings; ++i) {
    const lanes deviation = g.current[i] - level * at.power[i];
    square[i] = g.count > i ? g.weight[i] * deviation * deviation : all_lanes(1e300);
  }
  sort(square, g.readings);
  lanes below{}, above{};
  for (int i = 0; i < g.readings; ++i) {
    const lanes twice = all_lanes(2.0 * i + 1.0);  // the middle of n is at 2 i + 1 = n, or between n - 1 and n + 1
    below = (twice == g.count) | (twice == g.count - 1.0) ? square[i] : below;
    above = (twice == g.count) | (twice == g.count + 1.0) ? square[i] : above;
  }
  return 0.5 * (root(below) + root(above));
}

/// Readings as Huber's sum sees them near a curve: those inside the bend count by their square as in a plain fit,
/// those outside pull with constant force. For given sides the best level is linear again.
struct huber_sides {
  lanes bend;  ///< k times the scale
  lanes root_weight[most];
  flags outside[most];
  lanes pull[most];
  lanes weight[most];
  lanes inside;  ///< readings inside
};

/// Sorts the readings by side; says which curves have any that changed. Careful curves take a reading outside at
/// Huber's reduced weight, which leads downhill from anywhere and slowly; the others by the sum's own second
/// derivative, which is quick where the sides are right.
template <class Group>
REWOUND_INLINE flags take_sides(const Group& g, const power_state& at, lanes level, flags careful, huber_sides& sides) {
  flags changed{};
  sides.inside = g.count;
  for (int i = 0; i < g.readings; ++i) {
    const lanes z = sides.root_weight[i] * (g.current[i] - level * at.power[i]);
    const lanes size = size_of(z);
    const flags outside = size > sides.bend;
    changed |= outside ^ sides.outside[i];
    sides.outside[i] = outside;
    sides.inside -= outside ? all_lanes(1.0) : lanes{};
    const lanes reduced = any(careful & outside) ? g.weight[i] * sides.bend / size : lanes{};
    const lanes force = (z > 0.0 ? sides.bend : -sides.bend) * sides.root_weight[i];
    sides.pull[i] = outside ? (careful ? reduced * g.current[i] : force) : g.weight[i] * g.current[i];
    sides.weight[i] = outside ? (careful ? reduced : lanes{}) : g.weight[i];
  }
  return changed;
}

/// The readings at Huber's weights, whichever way they were taken last.
template <class Group>
REWOUND_INLINE void take_carefully(const Group& g, const power_state& at, lanes level, flags careful,
                                   huber_sides& sides) {
  if (any(careful)) take_sides(g, at, level, careful, sides);
}

template <class Group>
REWOUND_INLINE lanes huber_level(const Group& g, const power_state& at, const huber_sides& sides) {
  lanes s{}, t{};
  for (int i = 0; i < g.readings; ++i) {
    s += sides.pull[i] * at.power[i];
    t += sides.weight[i] * at.power[i] * at.power[i];
  }
  return s / t;
}

/// Steps until the exponent rests and no reading changes its side.
template <class Group>
REWOUND_INLINE flags search_huber(const Group& g, lanes reach, int most_tries, power_state& at, lanes& level,
                                  huber_sides& sides) {
  constexpr int patience = 4;
  flags searching = flags{} - 1;
  flags good = searching;
  const auto pull = [&](int i) { return sides.pull[i]; };
  const auto weight = [&](int i) { return sides.weight[i]; };
  take_sides(g, at, level, flags{}, sides);
  flags careful = sides.inside < 0.6 * g.count;
  take_carefully(g, at, level, careful, sides);
  for (int k = 0; k < most_tries && any(searching); ++k) {
    const auto step = step_of(sums_of(g, at, pull, weight));
    good = searching ? step.towards_top & finite(step.by) & (flags)(size_of(step.by) < 2.0) : good;
    const lanes by = searching & good ? step.by : lanes{};
    move_exponent(g, reach, by, at);
    level = searching ? huber_level(g, at, sides) : level;
    good &= (flags)(level > 0.0) & finite(level);
    const flags changed = take_sides(g, at, level, flags{}, sides);
    searching &= good & ((flags)(size_of(by) > last_step) | changed | careful);
    // Where quick steps go to and fro between choices of sides, careful ones come in between, in ever longer rows.
    const bool quick = (k & (k + 1)) == 0;
    careful = k < patience ? (flags)(sides.inside < 0.6 * g.count) : quick ? flags{} : changed | careful;
    careful &= searching;
    take_carefully(g, at, level, careful, sides);
  }
  return good & ~searching;
}

template <class Group>
REWOUND_INLINE void fit_robust_power_in(int most_tries, const Group& g, group_answers<2>& out) {
  power_state at;
  power_sums sums;
  lanes total;
  const lanes reach = reach_of(g);
  flags good = start_power(g, reach, at, total);
  good &= search_power(g, reach, at, sums);
  for (int i = 0; i < g.readings; ++i) at.power[i] = rested(at, g.z[i], i);
  rest_sums(at, sums);
  const lanes plain = sums.s0 / sums.t0;
  huber_sides sides;
  sides.bend = (1.345 * 1.4826) * median_deviation(g, at, plain);
  lanes chi2{};
  for (int i = 0; i < g.readings; ++i) {
    const lanes deviation = g.current[i] - plain * at.power[i];
    chi2 += g.weight[i] * deviation * deviation;
    sides.root_weight[i] = root(g.weight[i]);
    sides.outside[i] = flags{};
  }
  // Where rounding is all that is left, the scale is none.
  good &= (flags)(chi2 <= one_minimum * total) & (flags)(sides.bend * sides.bend > 1e-24 * total);
  lanes level = plain;
  good &= search_huber(g, reach, most_tries, at, level, sides);
  const auto share = [&](int i, lanes deviation) {
    return sides.outside[i] ? sides.bend / (sides.root_weight[i] * size_of(deviation)) : all_lanes(1.0);
  };
  finish_power(g, at, level, share, out);
  out.certified = good & g.sound & (flags)(g.count > 2.5) & finite(out.covariance[0]) & finite(out.covariance[3]);
}

template <class Group>
REWOUND_INLINE void fit_robust_power_group(const Group& g, group_answers<2>& out) {
  fit_robust_power_in(8, g, out);
}

/// For the few curves whose readings take long to choose their side.
template <class Group>
REWOUND_INLINE void fit_robust_power_at_length(const Group& g, group_answers<2>& out) {
  fit_robust_power_in(270, g, out);
}

}  // namespace
}  // namespace rewound::curves
