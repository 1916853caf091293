// SPDX-License-Identifier: MIT
#pragma once

#include "bent_error_kernel.hpp"

// The magnetising curve with load: a scan of m, at each m from the starts of detail::loaded_starts.
namespace rewound::fit {
namespace {

using loaded_state = box_state<5>;

/// As the currents' shares: p / x may take up to all where there is least room for it, and g x then of what is left.
struct active_start {
  lanes p, g;
  lanes reactive[most];  ///< what is left of each current, relative to it
};

constexpr int active_starts = 6;

struct loaded_starts {
  active_start active[active_starts];
  lanes line[most];  ///< x over the current
  lanes per_current[most];
  lanes present[most];
};

inline void take_loaded_starts(const error_group& g, loaded_starts& to) {
  constexpr double falling[] = {0.02, 0.5, 0.95};
  constexpr double rising[] = {0.02, 0.7};
  lanes room = unbounded;
  for (int i = 0; i < g.readings; ++i) {
    to.per_current[i] = reciprocal(g.current[i]);
    to.present[i] = choose(g.share[i] > 0.0, 1.0, lanes{});
    to.line[i] = g.x[i] * to.per_current[i];
    room = lesser(g.current[i] * g.x[i], room);
  }
  for (int k = 0; k < active_starts; ++k) {
    auto& start = to.active[k];
    start.p = falling[k / 2] * room;
    lanes left = unbounded;
    for (int i = 0; i < g.readings; ++i) {
      const lanes per_x = reciprocal(g.x[i]);
      left = lesser((g.current[i] - start.p * per_x) * per_x, left);
    }
    start.g = rising[k % 2] * left;
    for (int i = 0; i < g.readings; ++i) {
      const lanes active = start.p * reciprocal(g.x[i]) + start.g * g.x[i];
      const lanes square = g.current[i] * g.current[i] - active * active;
      start.reactive[i] = root(greater(square, lanes{})) * to.per_current[i];
    }
  }
}

/// The lowest that descents from all starts at one m reach, where it is below `best`.
template <class Problem>
void descend_from_all(const error_group& g, const loaded_starts& starts, lanes m, const lane_box<5>& box,
                      lanes rounding, int steps, loaded_state& best) {
  lanes bent[most];
  for (int i = 0; i < g.readings; ++i) bent[i] = exponential(m * g.z[i]) * starts.per_current[i];
  for (const auto& from : starts.active) {
    const auto levels = levels_at(
        g, [&](int i) { return starts.present[i]; }, starts.line, bent, [&](int i) { return from.reactive[i]; }, m);
    loaded_state at;
    at.p[0] = levels.a;
    at.p[1] = levels.b;
    at.p[2] = m;
    at.p[3] = from.p;
    at.p[4] = from.g;
    start_at<Problem>(g, box, at);
    descend<Problem>(g, box, rounding, steps, at);
    take_where(at.sums.chi2 < best.sums.chi2, at, best);
  }
}

template <class Problem>
loaded_state lowest_at_power(const error_group& g, const loaded_starts& starts, double m, lanes rounding) {
  constexpr int short_descent = 8;
  constexpr int longer_descent = 20;
  const lane_box<5> box = {{0.0, 0.0, m, 0.0, 0.0}, {unbounded, unbounded, m, unbounded, unbounded}};
  loaded_state best{};
  best.sums.chi2 = unbounded;
  descend_from_all<Problem>(g, starts, m, box, rounding, short_descent, best);
  descend<Problem>(g, box, rounding, longer_descent, best);
  return best;
}

constexpr int most_loaded_starts = 3;

/// The best powers of the scan, each better than its neighbours, from the lowest on; where there are fewer, the others
/// are `unbounded`.
struct loaded_minima {
  loaded_state place[most_loaded_starts];
};

inline void note(flags here, loaded_state found, loaded_minima& to) {
  for (auto& place : to.place) {
    const flags lower = here & (found.sums.chi2 < place.sums.chi2);
    if (!any(lower)) continue;
    const loaded_state before = place;
    take_where(lower, found, place);
    take_where(lower, before, found);
  }
}

template <class Problem>
void scan_loaded(const error_group& g, const loaded_starts& starts, lanes rounding, loaded_minima& out) {
  constexpr double powers[] = {1.2, 1.5, 2.0, 2.4, 2.9, 3.5, 4.3, 5.3, 6.5, 8.0, 10.0, 12.0};
  constexpr double lower = 1.0 - 1e-7;
  loaded_state before{};
  before.sums.chi2 = unbounded;
  flags falling = all_flags();
  for (auto& place : out.place) place = before;
  for (const double m : powers) {
    if (!Problem::weighted && m < 2.0) continue;
    const auto here = lowest_at_power<Problem>(g, starts, m, rounding);
    const flags rises = ~(here.sums.chi2 < before.sums.chi2 * lower);
    note(falling & rises, before, out);
    falling = ~rises;
    before = here;
  }
  note(falling, before, out);
}

/// Near 0 the sum hangs on the square of a or p, and steps towards 0 creep: what there is without, where it is lower.
template <class Problem>
void descend_without(const error_group& g, std::size_t level, lane_box<5> box, lanes rounding, int steps,
                     loaded_state& best) {
  box.high[level] = 0.0;
  loaded_state at = best;
  start_at<Problem>(g, box, at);
  descend<Problem>(g, box, rounding, steps, at);
  take_where(at.sums.chi2 < best.sums.chi2, at, best);
}

/// As detail::make_canonical: m at its bound where b = 0, and no g beside a where both say the same; no a that p and g
/// drown. Where b is 0.
REWOUND_IN_LANES flags write_canonically(double least_power, lanes* p) {
  constexpr double nothing = 1e-8;  // of the active levels: beside them its square is rounding
  const flags flat = p[1] == 0.0;
  p[0] = choose(flat & (p[0] < nothing * (p[3] + p[4])), lanes{}, p[0]);
  const flags one_level = flat & (p[3] == 0.0);
  p[2] = choose(flat, least_power, p[2]);
  p[0] = choose(one_level, root(p[0] * p[0] + p[4] * p[4]), p[0]);
  p[4] = choose(one_level, lanes{}, p[4]);
  return flat;
}

/// The lowest end of the descents from the scan's minima, and of those from all starts at the power found and
/// beside it: where p and g
/// have come to 0, the sum is level in both, and a descent cannot leave.
template <class Problem>
void fit_loaded(error_group& g, error_answers<5>& out) {
  constexpr double least_power = Problem::weighted ? 1.2 : 2.0;
  constexpr lane_box<5> box = {{0.0, 0.0, least_power, 0.0, 0.0}, {unbounded, unbounded, 12.0, unbounded, unbounded}};
  constexpr int first_descent = 50;
  constexpr int last_descent = 40;
  constexpr int long_descent = 150;
  constexpr double least_pivot = 1e-9;
  const lanes rounding = rounding_of<Problem>(g);
  loaded_minima found;
  loaded_starts starts;
  take_loaded_starts(g, starts);
  scan_loaded<Problem>(g, starts, rounding, found);
  loaded_state best = found.place[0];
  descend<Problem>(g, box, rounding, first_descent, best);
  for (int k = 1; k < most_loaded_starts; ++k) {
    const flags there = found.place[k].sums.chi2 < unbounded;
    if (!any(there)) break;
    loaded_state at = found.place[0];
    take_where(there, found.place[k], at);
    descend<Problem>(g, box, rounding, first_descent, at);
    take_where(at.sums.chi2 < best.sums.chi2, at, best);
  }
  constexpr double beside[] = {1.0, 1.5, 0.7};
  for (const double factor : beside) {
    const lanes m = lesser(greater(factor * best.p[2], least_power), 12.0);
    descend_from_all<Problem>(g, starts, m, box, rounding, first_descent, best);
  }
  constexpr std::size_t creeping[] = {0, 3};
  for (const std::size_t level : creeping) descend_without<Problem>(g, level, box, rounding, long_descent, best);
  descend<Problem>(g, box, rounding, last_descent, best);
  flags good = settle_somehow<Problem>(g, box, rounding, best);
  if (g.robust) {
    write_canonically(least_power, best.p);
    good &= settle_robustly<Problem>(g, box, rounding, best);
  }
  out.near = g.sound & (g.count > 4.5) & (g.voltages > 4.5) & (best.sums.chi2 < unbounded);
  const flags flat = write_canonically(least_power, best.p);
  best.sums = sums_at<Problem>(g, best.p);
  flags left_out[5];
  for (std::size_t j = 0; j < 5; ++j)
    left_out[j] = ((j == 1 || j == 2) ? flat : flags{}) | ~(best.sums.gram[j][j] > 0.0);
  flags told = take_covariance(best.sums, left_out, least_pivot, out.covariance);
  for (std::size_t j = 0; j < 5; ++j) {
    out.parameter[j] = best.p[j];
    told &= finite(out.covariance[6 * j]);
  }
  out.chi2 = best.sums.chi2;
  out.unit_variance = mean_variance<Problem>(g, best.p);
  out.settled = good & out.near;
  out.certified = told & out.settled;
}

}  // namespace
}  // namespace rewound::fit
