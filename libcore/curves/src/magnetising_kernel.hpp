// SPDX-License-Identifier: MIT
#pragma once

#include "group.hpp"

namespace rewound::curves {
namespace {

constexpr double lowest_power = 1.2;
constexpr double highest_power = 12.0;

/// A magnetising curve's sum of squares over m alone. With t = ln x - ln x_max no power overflows; what the line
/// through 0 explains is taken off the currents beforehand.
struct bent_problem {
  lanes top;          ///< ln x_max
  lanes inverse_top;  ///< 1 / x_max
  lanes t[most];
  lanes line[most];   ///< x / x_max
  lanes w_line[most];
  lanes across[most];    ///< current less its part along the line
  lanes w_across[most];
  lanes along;        ///< current along the line
  lanes per_line;     ///< 1 / sum of w line^2
  lanes total;        ///< sum of w I^2
  lanes left;         ///< sum of w across^2
  lanes spread;       ///< largest -t
};

template <class Group>
REWOUND_INLINE void take_problem(const Group& g, bent_problem& to) {
  lanes top = all_lanes(-1e3);
  lanes top_x{};
  for (int i = 0; i < g.readings; ++i) {
    top = greater(top, g.count > i ? g.z[i] : all_lanes(-1e3));
    top_x = greater(top_x, g.count > i ? g.x[i] : lanes{});
  }
  to.top = top;
  to.inverse_top = 1.0 / top_x;
  lanes squares{}, product{};
  to.total = to.left = to.spread = lanes{};
  for (int i = 0; i < g.readings; ++i) {
    to.t[i] = g.count > i ? g.z[i] - top : lanes{};
    to.spread = greater(to.spread, -to.t[i]);
    to.line[i] = g.x[i] * to.inverse_top;
    to.w_line[i] = g.weight[i] * to.line[i];
    squares += to.w_line[i] * to.line[i];
    product += to.w_line[i] * g.current[i];
    to.total += g.weight[i] * g.current[i] * g.current[i];
  }
  to.per_line = 1.0 / squares;
  to.along = product * to.per_line;
  for (int i = 0; i < g.readings; ++i) {
    to.across[i] = g.current[i] - to.along * to.line[i];
    to.w_across[i] = g.weight[i] * to.across[i];
    to.left += to.w_across[i] * to.across[i];
  }
}

/// How chi2 falls with m, with the best a and b: minus half its derivative.
template <class Group>
REWOUND_INLINE lanes fall_at(const Group& g, const bent_problem& of, const lanes* power) {
  lanes n{}, n1{}, e{}, e1{}, u{}, u1{};
  for (int i = 0; i < g.readings; ++i) {
    const lanes p = power[i];
    const lanes pt = p * of.t[i];
    const lanes wp = g.weight[i] * p;
    n += of.w_across[i] * p;
    n1 += of.w_across[i] * pt;
    u += of.w_line[i] * p;
    u1 += of.w_line[i] * pt;
    e += wp * p;
    e1 += wp * pt;
  }
  const lanes inverse = 1.0 / (e - u * u * of.per_line);
  const lanes level = n * inverse;
  return level * (n1 - level * (e1 - u * u1 * of.per_line));
}

constexpr int most_minima = 3;

/// Where chi2 changes from falling to rising; at an end of the range both bounds are that end.
struct minima {
  lanes count;
  lanes low[most_minima];
  lanes high[most_minima];
  lanes start[most_minima];
};

REWOUND_INLINE void note(minima& to, flags here, lanes low, lanes high, lanes start) {
  for (int k = 0; k < most_minima; ++k) {
    const flags place = here & (to.count == k);
    to.low[k] = place ? low : to.low[k];
    to.high[k] = place ? high : to.high[k];
    to.start[k] = place ? start : to.start[k];
  }
  to.count += here ? all_lanes(1.0) : lanes{};
}

/// A scan of m in steps that double: so many of the first length, of twice that, and so on; together 10.8.
struct scan_plan {
  double first;
  int steps[4];
};

/// Powers turn by about the same angle in each step, since x^m hangs on a narrower range of x the higher m is.
constexpr scan_plan few_steps = {0.2, {2, 2, 4, 4}};
constexpr scan_plan close_steps = {0.05, {16, 20, 20, 10}};

template <class Group>
REWOUND_INLINE minima scan(const Group& g, const bent_problem& of, const scan_plan& plan) {
  lanes power[most];
  lanes factor[most];
  for (int i = 0; i < g.readings; ++i) {
    power[i] = quick_exponential(lowest_power * of.t[i]);
    factor[i] = quick_exponential(plan.first * of.t[i]);
  }
  minima out{};
  double m = lowest_power;
  double step = plan.first;
  lanes before = fall_at(g, of, power);
  note(out, before <= 0.0, all_lanes(m), all_lanes(m), all_lanes(m));
  for (const int steps : plan.steps) {
    for (int k = 0; k < steps; ++k) {
      for (int i = 0; i < g.readings; ++i) power[i] *= factor[i];
      const lanes here = fall_at(g, of, power);
      const flags passed = (before > 0.0) & (here <= 0.0);
      if (any(passed)) note(out, passed, all_lanes(m), all_lanes(m + step), m + step * before / (before - here));
      before = here;
      m += step;
    }
    step *= 2.0;
    for (int i = 0; i < g.readings; ++i) factor[i] *= factor[i];
  }
  const lanes end = all_lanes(highest_power);
  note(out, before > 0.0, end, end, end);
  return out;
}

/// A step of m towards the top of ln N^2 - ln D, where N is the bent part along the currents and D its own square.
struct power_step {
  lanes slope;
  lanes bend;
  lanes explained;  ///< N^2 / D, by which b lowers chi2
};

template <class Group>
REWOUND_INLINE power_step power_step_at(const Group& g, const bent_problem& of, lanes m) {
  lanes n{}, n1{}, n2{}, e{}, e1{}, e2{}, u{}, u1{}, u2{};
  for (int i = 0; i < g.readings; ++i) {
    const lanes t = of.t[i];
    const lanes p = quick_exponential(m * t);
    const lanes pt = p * t;
    const lanes ptt = pt * t;
    const lanes wp = g.weight[i] * p;
    n += of.w_across[i] * p;
    n1 += of.w_across[i] * pt;
    n2 += of.w_across[i] * ptt;
    u += of.w_line[i] * p;
    u1 += of.w_line[i] * pt;
    u2 += of.w_line[i] * ptt;
    e += wp * p;
    e1 += wp * pt;
    e2 += wp * ptt;
  }
  const lanes d = 1.0 / (e - u * u * of.per_line);
  const lanes ratio = (e1 - u * u1 * of.per_line) * d;
  const lanes per_n = 1.0 / n;
  const lanes rate = n1 * per_n;
  const lanes squares = (2.0 * e2 - (u1 * u1 + u * u2) * of.per_line) * d;
  return {rate - ratio, n2 * per_n - rate * rate - squares + 2.0 * ratio * ratio, n * n * d};
}

struct found_power {
  lanes m;
  lanes explained;
  flags good;
};

/// Newton's steps between bounds that close in; where one leads outside, the middle.
template <class Group>
REWOUND_INLINE found_power refine(const Group& g, const bent_problem& of, lanes low, lanes high, lanes m) {
  constexpr double enough = 1e-6;  // the error left is about its square
  constexpr int most_refinements = 40;
  flags searching = low < high;
  lanes explained{};
  for (int k = 0; k < most_refinements; ++k) {
    const auto at = power_step_at(g, of, m);
    explained = at.explained;
    if (!any(searching)) break;
    low = searching & (flags)(at.slope > 0.0) ? m : low;
    high = searching & (flags)(at.slope <= 0.0) ? m : high;
    const lanes next = m - at.slope / at.bend;
    const flags inside = (at.bend < 0.0) & (next >= low) & (next <= high);
    const lanes to = inside ? next : 0.5 * (low + high);
    const lanes by = size_of(to - m);
    m = searching ? to : m;
    searching &= by > enough;
    if (!any(searching)) break;
  }
  return {m, explained, ~searching};
}

/// The curve at its m in orthogonal parts: the line, what x^m has beyond it, and what x^m ln x has beyond both.
/// Projections are explicit: differences of sums would leave no digits where x^m is almost x.
struct bent_parts {
  lanes s;   ///< of the line in x^m
  lanes c1;  ///< of the line in x^m t
  lanes c2;  ///< of the second part in x^m t
  lanes b;   ///< level of the second part
  lanes per_second;  ///< 1 / its square summed
  lanes third;       ///< square of the third part summed
  lanes chi2;
  flags told;  ///< the parts stand out of rounding
};

template <class Group>
REWOUND_INLINE bent_parts parts_at(const Group& g, const bent_problem& of, lanes m) {
  lanes power[most], bent[most], turned[most];
  lanes u{}, u1{};
  for (int i = 0; i < g.readings; ++i) {
    power[i] = quick_exponential(m * of.t[i]);
    u += of.w_line[i] * power[i];
    u1 += of.w_line[i] * power[i] * of.t[i];
  }
  bent_parts out;
  out.s = u * of.per_line;
  out.c1 = u1 * of.per_line;
  lanes d{}, n{}, e{}, cross{};
  for (int i = 0; i < g.readings; ++i) {
    bent[i] = power[i] - out.s * of.line[i];
    turned[i] = power[i] * of.t[i] - out.c1 * of.line[i];
    const lanes w = g.weight[i] * bent[i];
    n += w * of.across[i];
    d += w * bent[i];
    cross += w * turned[i];
    e += g.weight[i] * power[i] * power[i];
  }
  out.per_second = 1.0 / d;
  out.b = n * out.per_second;
  out.c2 = cross * out.per_second;
  out.chi2 = out.third = lanes{};
  lanes whole_third{};
  for (int i = 0; i < g.readings; ++i) {
    const lanes deviation = of.across[i] - out.b * bent[i];
    const lanes off = turned[i] - out.c2 * bent[i];
    const lanes whole = power[i] * of.t[i];
    out.chi2 += g.weight[i] * deviation * deviation;
    out.third += g.weight[i] * off * off;
    whole_third += g.weight[i] * whole * whole;
  }
  out.told = (flags)(d > 1e-9 * e) & (flags)(out.third > 1e-9 * whole_third) & (flags)(n * out.b > 1e-20 * of.total);
  return out;
}

/// Parameters and covariance from the orthogonal parts.
template <class Group>
REWOUND_INLINE flags finish_magnetising(const Group& g, const bent_problem& of, lanes m, group_answers<3>& out) {
  const bent_parts parts = parts_at(g, of, m);
  const lanes per_power = exponential(-m * of.top);
  const lanes scale = parts.chi2 / (g.count - 3.0);
  const lanes v0 = scale * of.per_line * of.inverse_top * of.inverse_top;
  const lanes v1 = scale * parts.per_second;
  const lanes v2 = scale / parts.third;
  // Rows of what turns the three parts into a, b and m.
  const lanes a1 = -parts.s * of.inverse_top;
  const lanes a2 = (parts.s * parts.c2 - parts.c1) * of.inverse_top;
  const lanes b2 = -(parts.c2 + of.top) * per_power;
  const lanes m2 = 1.0 / parts.b;
  out.parameter[0] = (of.along - parts.b * parts.s) * of.inverse_top;
  out.parameter[1] = parts.b * per_power;
  out.parameter[2] = m;
  out.covariance[0] = v0 + a1 * a1 * v1 + a2 * a2 * v2;
  out.covariance[1] = out.covariance[3] = a1 * per_power * v1 + a2 * b2 * v2;
  out.covariance[2] = out.covariance[6] = a2 * m2 * v2;
  out.covariance[4] = per_power * per_power * v1 + b2 * b2 * v2;
  out.covariance[5] = out.covariance[7] = b2 * m2 * v2;
  out.covariance[8] = m2 * m2 * v2;
  out.chi2 = parts.chi2;
  return parts.told & finite(out.covariance[0]) & finite(out.covariance[4]) & finite(out.covariance[8]) &
         finite(out.parameter[1]);
}

/// Nearer than this share of what the line leaves chi2 is certain of its minimum after few steps: another m that does
/// as well has powers within twice the angle, which few steps would not step over.
constexpr double near_enough = 0.05;

/// Few steps, for curves that lie near their readings and have one minimum.
template <class Group>
REWOUND_INLINE void fit_magnetising_group(const Group& g, group_answers<3>& out) {
  constexpr double widest = 1.6;
  bent_problem problem;
  take_problem(g, problem);
  const minima found = scan(g, problem, few_steps);
  const auto best = refine(g, problem, found.low[0], found.high[0], found.start[0]);
  const flags told = finish_magnetising(g, problem, best.m, out);
  out.certified = told & best.good & g.sound & (flags)(g.count > 3.5) & (flags)(found.count == 1.0) &
                  (flags)(problem.spread < widest) & (flags)(out.chi2 <= near_enough * problem.left);
}

/// Steps too small to hide a minimum, and the lowest of all that they find.
template <class Group>
REWOUND_INLINE void scan_magnetising_group(const Group& g, group_answers<3>& out) {
  constexpr double widest = 2.5;
  bent_problem problem;
  take_problem(g, problem);
  const minima found = scan(g, problem, close_steps);
  found_power best = refine(g, problem, found.low[0], found.high[0], found.start[0]);
  for (int k = 1; k < most_minima && any(found.count > k); ++k) {
    const auto other = refine(g, problem, found.low[k], found.high[k], found.start[k]);
    const flags there = found.count > k;
    const flags better = there & (flags)(other.explained > best.explained);
    best.m = better ? other.m : best.m;
    best.explained = better ? other.explained : best.explained;
    best.good &= other.good | ~there;
  }
  const flags told = finish_magnetising(g, problem, best.m, out);
  out.certified = told & best.good & g.sound & (flags)(g.count > 3.5) & (flags)(found.count > 0.5) &
                  (flags)(found.count < most_minima + 0.5) & (flags)(problem.spread < widest);
}

}  // namespace
}  // namespace rewound::curves
