// SPDX-License-Identifier: MIT
#pragma once

#include "error_kernel.hpp"

namespace rewound::fit {
namespace {

/// Where a search of a magnetising curve begins.
struct bent_start {
  lanes a, b, m;
  lanes pull;  ///< of the bent part where there is none yet
  lanes chi2;
};

/// The levels of two columns that come nearest to a target, neither below 0.
template <class Weight, class Target>
bent_start levels_at(const error_group& g, const Weight& weight, const lanes* line, const lanes* bent,
                     const Target& target, lanes m) {
  lanes aa{}, ab{}, bb{}, a1{}, b1{};
  for (int i = 0; i < g.readings; ++i) {
    const lanes w_line = weight(i) * line[i];
    const lanes w_bent = weight(i) * bent[i];
    aa += w_line * line[i];
    ab += w_line * bent[i];
    bb += w_bent * bent[i];
    a1 += w_line * target(i);
    b1 += w_bent * target(i);
  }
  const lanes per_line = reciprocal(aa);
  const lanes rest = greater(bb - ab * ab * per_line, 1e-12 * bb);
  const lanes over = b1 - ab * a1 * per_line;
  const lanes b_both = over * reciprocal(rest);
  const lanes a_both = (a1 - ab * b_both) * per_line;
  const flags straight = ~(over > 0.0);
  const flags all_bent = ~straight & ~(a_both > 0.0);
  bent_start out;
  out.m = m;
  out.b = choose(straight, lanes{}, choose(all_bent, b1 * reciprocal(bb), b_both));
  out.a = choose(straight, a1 * per_line, choose(all_bent, lanes{}, a_both));
  out.pull = over / root(rest);
  return out;
}

REWOUND_IN_LANES void take_where(flags here, const bent_start& from, bent_start& to) {
  to.a = choose(here, from.a, to.a);
  to.b = choose(here, from.b, to.b);
  to.m = choose(here, from.m, to.m);
  to.chi2 = choose(here, from.chi2, to.chi2);
  to.pull = choose(here, from.pull, to.pull);
}

constexpr int most_bent_starts = 3;

/// The best powers of a coarse scan, each better than its neighbours.
struct bent_starts {
  bent_start place[most_bent_starts];
  lanes count;
  lanes scatter;  ///< what the best leaves, as a mean square of relative deviations
};

REWOUND_IN_LANES void note(flags here, const bent_start& found, bent_starts& to) {
  for (int k = 0; k < most_bent_starts; ++k) take_where(here & (to.count == k), found, to.place[k]);
  to.count += choose(here, 1.0, lanes{});
}

/// The sum is smooth in m: a minimum of weight between two of these shows at one of them.
constexpr double scanned_powers[] = {2.0, 2.3, 2.7, 3.2, 3.8, 4.5, 5.3, 6.2, 7.2, 8.4, 9.6, 10.8, 12.0};

using bent_in_logs = errors_in_both<magnetising_in_logs>;

/// I = a x + b x^m over a and b, at the powers that the group holds.
struct levels_in_logs {
  static constexpr std::size_t parameters = 2;
  static constexpr bool weighted = false;
  static REWOUND_IN_LANES reading_point<2> at(const error_group& g, int i, const lanes* p) {
    const lanes bent = p[1] * g.power[i];
    const lanes inverse = reciprocal(p[0] * g.x[i] + bent);
    const lanes exponent = (p[0] * g.x[i] + g.held_power * bent) * inverse;
    const lanes of_voltage = exponent * g.of_voltage[i];
    const lanes per_variance = reciprocal(g.of_current[i] + exponent * of_voltage);
    reading_point<2> out;
    out.deviation = g.log_current[i] + logarithm(inverse);
    out.weight = g.share[i] * per_variance;
    const lanes lever = out.deviation * of_voltage * per_variance;
    out.row[0] = g.x[i] * inverse * (1.0 + lever * (1.0 - exponent));
    out.row[1] = g.power[i] * inverse * (1.0 + lever * (g.held_power - exponent));
    return out;
  }
};

/// The levels at the power held, from those that fit relative deviations best.
inline void improve_levels(const error_group& g, lanes rounding, bent_start& of) {
  constexpr int few_steps = 2;
  constexpr lane_box<2> levels = {{0.0, 0.0}, {unbounded, unbounded}};
  box_state<2> at;
  at.p[0] = of.a;
  at.p[1] = of.b;
  start_at<levels_in_logs>(g, levels, at);
  descend<levels_in_logs>(g, levels, rounding, few_steps, at);
  of.a = at.p[0];
  of.b = at.p[1];
  of.chi2 = choose(finite(at.sums.chi2), at.sums.chi2, unbounded);
}

inline bent_starts scan_bent(error_group& g, lanes rounding) {
  constexpr double lower = 1.0 - 1e-7;
  lanes line[most], bent[most], weight[most], per_current[most];
  lanes slope[2];
  start_in_logs<line_in_logs>(g, slope);
  const lanes exponent = lesser(greater(slope[1], 1.0), 12.0);
  lanes total{};
  for (int i = 0; i < g.readings; ++i) {
    weight[i] = g.share[i] * reciprocal(g.of_current[i] + exponent * exponent * g.of_voltage[i]);
    per_current[i] = reciprocal(g.current[i]);
    line[i] = g.x[i] * per_current[i];
    total += weight[i];
  }
  bent_starts out{};
  bent_start before{}, steepest{};
  before.chi2 = unbounded;
  steepest.pull = -unbounded;
  lanes best = unbounded;
  flags falling = all_flags();
  for (const double m : scanned_powers) {
    g.held_power = m;
    for (int i = 0; i < g.readings; ++i) {
      g.power[i] = exponential(m * g.z[i]);
      bent[i] = g.power[i] * per_current[i];
    }
    auto here = levels_at(
        g, [&](int i) { return weight[i]; }, line, bent, [](int) { return lanes(1.0); }, m);
    improve_levels(g, rounding, here);
    take_where(here.pull > steepest.pull, here, steepest);
    const flags rises = ~(here.chi2 < before.chi2 * lower);
    note(falling & rises, before, out);
    falling = ~rises;
    best = lesser(here.chi2, best);
    before = here;
  }
  note(falling, before, out);
  // Where no power explains more than the straight line, the search goes from where the bent part pulls most.
  take_where((out.count < 1.5) & ~(out.place[0].b > 0.0), steepest, out.place[0]);
  out.scatter = best / total;
  return out;
}

constexpr lane_box<3> bent_box = {{0.0, 0.0, 2.0}, {unbounded, unbounded, 12.0}};

/// Where no curve of the family lies near, the scan's levels may lead astray: the descents of
/// detail::magnetising_starts that begin from no fit.
inline void descend_from_afar(const error_group& g, lanes rounding, int steps, flags where, box_state<3>& best) {
  constexpr double powers[] = {3.0, 12.0};
  constexpr double shares[] = {0.3, 3.0};
  lanes top{}, level{};
  for (int i = 0; i < g.readings; ++i) {
    top = greater(top, g.x[i]);
    level += choose(g.count > i, g.log_current[i] - g.z[i], lanes{});
  }
  level = exponential(level / g.count);
  for (const double m : powers)
    for (const double share : shares) {
      box_state<3> at;
      at.p[0] = level;
      at.p[1] = share * level * exponential((1.0 - m) * logarithm(top));
      at.p[2] = m;
      start_at<bent_in_logs>(g, bent_box, at);
      descend<bent_in_logs>(g, bent_box, rounding, steps, at);
      take_where(where & (at.sums.chi2 < best.sums.chi2), at, best);
    }
}

/// A magnetising curve with errors in both coordinates: the lowest of the minima that a scan of m leads to.
inline void fit_magnetising_in_logs(error_group& g, error_answers<3>& out) {
  using problem = bent_in_logs;
  constexpr int most_descent = 40;
  constexpr int short_descent = 10;
  constexpr double some_scatter = 0.0025;  // deviations of 5 %
  constexpr double least_pivot = 1e-9;
  // Beyond, the scan's weights mislead: deviations of half. Of 1500 random curves about 0.4 off, 5 ended higher than
  // one by one and 4 lower, 0.2 off 1 and 1.
  constexpr double most_scatter = 0.25;
  const lanes rounding = rounding_of<problem>(g);
  const auto starts = scan_bent(g, rounding);
  box_state<3> best;
  for (int k = 0; k < most_bent_starts && any(starts.count > k); ++k) {
    box_state<3> at;
    const flags there = starts.count > k;
    at.p[0] = choose(there, starts.place[k].a, starts.place[0].a);
    at.p[1] = choose(there, starts.place[k].b, starts.place[0].b);
    at.p[2] = choose(there, starts.place[k].m, starts.place[0].m);
    start_at<problem>(g, bent_box, at);
    descend<problem>(g, bent_box, rounding, most_descent, at);
    if (k == 0) best = at;
    else take_where(there & (at.sums.chi2 < best.sums.chi2), at, best);
  }
  const flags far = starts.scatter > some_scatter;
  if (any(far)) {
    descend_from_afar(g, rounding, short_descent, far, best);
    descend<problem>(g, bent_box, rounding, most_descent, best);
  }
  flags good = settle_somehow<problem>(g, bent_box, rounding, best);
  best.p[2] = choose(best.p[1] == 0.0, 2.0, best.p[2]);
  if (g.robust) good &= settle_robustly<problem>(g, bent_box, rounding, best);
  const flags flat = best.p[1] == 0.0;
  best.p[2] = choose(flat, 2.0, best.p[2]);
  const flags left_out[3] = {flags{}, flat, flat};
  flags told = take_covariance(best.sums, left_out, least_pivot, out.covariance);
  for (std::size_t j = 0; j < 3; ++j) out.parameter[j] = best.p[j];
  out.chi2 = best.sums.chi2;
  out.unit_variance = mean_variance<problem>(g, best.p);
  const flags close = starts.scatter < most_scatter;
  out.near = g.sound & (g.count > 2.5) & (g.voltages > 2.5) & (starts.count < most_bent_starts + 0.5) & close &
             finite(out.chi2);
  told &= finite(out.covariance[0]) & finite(out.covariance[4]) & finite(out.covariance[8]);
  out.settled = good & out.near;
  out.certified = told & out.settled;
}

}  // namespace
}  // namespace rewound::fit
