// SPDX-License-Identifier: MIT
#pragma once

#include "median.hpp"
#include "power_kernel.hpp"

namespace rewound::fit {
namespace {

/// Readings as Huber's sum sees them near a curve: those inside the bend count by their square as in a plain fit,
/// those outside pull with constant force. For given sides the best level is linear again.
struct huber_sides {
  lanes bend;  ///< k times the scale
  lanes root_weight[most];
  lanes pull[most];
  lanes weight[most];
  lanes outside;  ///< which ones are outside, as the digits of a number, and how many, in steps of one_outside
  flags many;     ///< more than two fifths are
};

constexpr double one_outside = 1 << (most + 8);  ///< all digits together are less than a hundredth of it

REWOUND_IN_LANES lanes digit_of(int reading, flags outside) {
  return choose(outside, one_outside + static_cast<double>(1 << reading), lanes{});
}

/// Weight of a reading outside the bend, whose deviation times the root of its weight has this size.
REWOUND_IN_LANES lanes huber_weight(lanes weight, lanes size, lanes bend) { return weight * (bend * reciprocal(size)); }

/// Sorts the readings by side. Careful curves take a reading outside at Huber's reduced weight, which leads downhill
/// from anywhere and slowly; the others by the sum's own second derivative, which is quick where the sides are right.
template <class Group>
REWOUND_IN_LANES void take_sides(const Group& g, const power_state& at, lanes level, huber_sides& sides) {
  sides.outside = lanes{};
  for (int i = 0; i < g.readings; ++i) {
    const lanes z = sides.root_weight[i] * (g.current[i] - level * at.power[i]);
    const flags outside = size_of(z) > sides.bend;
    const lanes force = greater(lesser(z, sides.bend), -sides.bend) * sides.root_weight[i];
    sides.outside += digit_of(i, outside);
    sides.pull[i] = choose(outside, force, g.weight[i] * g.current[i]);
    sides.weight[i] = choose(outside, lanes{}, g.weight[i]);
  }
  sides.many = sides.outside > one_outside * (0.4 * g.count + 0.01);
}

/// The readings outside at Huber's weights, where curves are careful.
template <class Group>
REWOUND_IN_LANES void take_carefully(const Group& g, const power_state& at, lanes level, flags careful,
                                     huber_sides& sides) {
  for (int i = 0; i < g.readings; ++i) {
    const lanes size = sides.root_weight[i] * size_of(g.current[i] - level * at.power[i]);
    const flags here = careful & (size > sides.bend);
    const lanes reduced = huber_weight(g.weight[i], size, sides.bend);
    sides.pull[i] = choose(here, reduced * g.current[i], sides.pull[i]);
    sides.weight[i] = choose(here, reduced, sides.weight[i]);
  }
}

/// How long to search. A reading that a last step still takes across the bend is seen afterwards.
struct huber_plan {
  int most_tries;
  double last_step;     ///< nearer than this the exponent rests
  double most_scatter;  ///< chi2 of the plain curve, over the sum of w I^2
};

constexpr huber_plan quick_plan = {4, 2e-5, one_minimum};
/// For the few curves whose readings take long to choose their side.
constexpr huber_plan long_plan = {270, 1e-9, __builtin_inf()};

/// Steps until the exponent rests with the readings on the sides that the step began from. The last step leaves the
/// powers behind; `level` is the one beside them, and the sums' own level is that of the end.
template <class Group>
REWOUND_IN_LANES flags search_huber(const Group& g, lanes per_total, const huber_plan& plan, power_state& at,
                                    lanes& level, huber_sides& sides) {
  constexpr int patience = 4;
  flags searching = all_flags();
  flags good = searching;
  flags careful{};
  flags astray{};  // the last quick step led nowhere
  lanes before = -1.0;
  lanes end = level;
  const auto pull = [&](int i) { return sides.pull[i]; };
  const auto weight = [&](int i) { return sides.weight[i]; };
  for (int k = 0; k < plan.most_tries; ++k) {
    take_sides(g, at, level, sides);
    // Where quick steps go to and fro between choices of sides, careful ones come in between, in ever longer rows.
    const bool quick = (k & (k - 1)) == 0;
    const flags changed = ~(sides.outside == before);
    careful = k <= patience ? sides.many : quick ? flags{} : changed | careful;
    careful = searching & (careful | astray);
    before = sides.outside;
    if (any(careful)) take_carefully(g, at, level, careful, sides);
    power_sums sums = sums_of(g, at, pull, weight);
    scale_sums(sums, per_total);
    const auto step = step_of(sums);
    const flags sound = step.towards_top & (size_of(step.by) < 2.0);
    astray = searching & ~careful & ~sound;
    good &= sound | ~searching | astray;
    const flags moving = searching & sound;
    const lanes by = choose(moving, step.by, lanes{});
    const flags last = moving & ~careful & (size_of(by) <= plan.last_step);
    at.n += by;
    at.rest = choose(last, by, at.rest);
    rest_sums(choose(moving, by, at.rest), sums);
    const lanes there = sums.s0 * reciprocal(sums.t0);
    good &= astray | ((there > 0.0) & finite(there));
    end = choose(moving, there, end);
    searching &= good & ~last;
    if (!any(searching)) break;
    level = choose(searching & moving, there, level);
    move_powers(g, choose(searching, by, lanes{}), at);
  }
  level = end;
  return good & ~searching;
}

/// Level, covariance and chi2 at the end, with Huber's shares of the weights; false where a reading has changed its
/// side.
template <class Group>
REWOUND_IN_LANES flags finish_robust(const Group& g, const power_state& at, lanes level, const huber_sides& sides,
                                     group_answers<2>& out) {
  lanes t0{}, t1{}, chi2{}, sorted{};
  lanes shared[most];
  for (int i = 0; i < g.readings; ++i) {
    const lanes power = rested(at, g.z[i], i);
    const lanes deviation = g.current[i] - level * power;
    const lanes size = sides.root_weight[i] * size_of(deviation);
    const flags outside = size > sides.bend;
    sorted += digit_of(i, outside);
    const lanes w = choose(outside, huber_weight(g.weight[i], size, sides.bend), g.weight[i]);
    shared[i] = w * power * power;
    t0 += shared[i];
    t1 += shared[i] * g.z[i];
    chi2 += w * deviation * deviation;
  }
  const lanes per_t0 = reciprocal(t0);
  const lanes middle = t1 * per_t0;
  lanes t2{};
  for (int i = 0; i < g.readings; ++i) {
    const lanes off = g.z[i] - middle;
    t2 += shared[i] * off * off;
  }
  tell_power(g, at, {level, per_t0, middle, reciprocal(level * level * t2)}, chi2, out);
  return sorted == sides.outside;
}

/// From the end of a plain search.
template <class Group>
REWOUND_IN_LANES void fit_robust_from(const Group& g, const huber_plan& plan, power_end& plain, group_answers<2>& out) {
  auto& [at, sums, total, per_total, good] = plain;
  lanes level = sums.s0 * reciprocal(sums.t0);
  huber_sides sides;
  lanes squares[most];
  lanes chi2{};
  for (int i = 0; i < g.readings; ++i) {
    at.power[i] = rested(at, g.z[i], i);
    const lanes deviation = g.current[i] - level * at.power[i];
    const lanes square = g.weight[i] * deviation * deviation;
    squares[i] = choose(g.weight[i] > 0.0, square, absent_square);
    chi2 += square;
    sides.root_weight[i] = root(g.weight[i]);
  }
  at.rest = lanes{};
  // Without readings to spare nothing tells an outlier from the rest.
  sides.bend =
      choose(g.count > 2.5, huber_bend * median_root(squares, g.readings, g.alike, g.count), 1e3 * root(total));
  // Where rounding is all that is left, the scale is none.
  good &= (chi2 <= plan.most_scatter * total) & (sides.bend * sides.bend > 1e-24 * total);
  good &= search_huber(g, per_total, plan, at, level, sides);
  good &= finish_robust(g, at, level, sides, out);
  out.certified = good & g.sound & (g.count > 1.5) & told(g, out.covariance[0]) & told(g, out.covariance[3]);
}

template <class Group>
REWOUND_IN_LANES void fit_robust_power_group(const Group& g, group_answers<2>& out) {
  power_end plain;
  search_plain(g, plain);
  fit_robust_from(g, quick_plan, plain, out);
}

template <class Group>
REWOUND_IN_LANES void fit_robust_power_at_length(const Group& g, group_answers<2>& out) {
  power_end plain;
  search_from_both(g, plain);
  fit_robust_from(g, long_plan, plain, out);
}

}  // namespace
}  // namespace rewound::fit
