// SPDX-License-Identifier: MIT
#pragma once

#include "bent_scan.hpp"

namespace rewound::fit {
namespace {

/// Below this four orders of a step are all that counts.
constexpr double last_bent_step = 5e-4;

/// An m, the powers at it less a last step that is too small to take them along, and their sums with the line there.
struct found_power {
  lanes m;
  lanes rest;
  lanes power[most];
  lanes u, u1, u2;
  flags good;
  flags at_end;  ///< of the range of m, where chi2 goes on falling beyond
};

/// The sums with the line at m itself.
REWOUND_IN_LANES void rest_line(const bent_sums& sums, found_power& at) {
  const lanes by = at.rest;
  at.u = sums.u + by * (sums.u1 + by * (0.5 * sums.u2 + (1.0 / 6.0) * (by * sums.u3)));
  at.u1 = sums.u1 + by * (sums.u2 + 0.5 * (by * sums.u3));
  at.u2 = sums.u2 + by * sums.u3;
}

/// Steps from a guess until every curve has its m; those that leave the range do not.
template <class Group>
REWOUND_IN_LANES void search_bent(const Group& g, const bent_problem& of, lanes guess, found_power& at) {
  constexpr int most_tries = 8;
  flags searching = all_flags();
  at.good = searching;
  at.m = guess;
  at.rest = lanes{};
  bent_sums sums;
  take_bent_powers(g, of, at.m, at.power);
  for (int k = 0; k < most_tries; ++k) {
    sums = sums_of_bent(g, of, at.power);
    const auto step = step_of_bent(sums, of);
    at.good = choose(searching, step.towards_top & (size_of(step.by) < 3.0), at.good);
    const lanes by = choose(searching & at.good, step.by, lanes{});
    const flags last = searching & (size_of(by) <= last_bent_step);
    at.m += by;
    at.rest = choose(last, by, at.rest);
    searching &= at.good & ~last;
    if (!any(searching)) break;
    const lanes moving = choose(searching, by, lanes{});
    const flags far = size_of(moving) * of.spread > small_exponent;
    for (int i = 0; i < g.readings; ++i) at.power[i] *= small_exponential(moving * of.t[i]);
    if (!any(far)) continue;
    for (int i = 0; i < g.readings; ++i)
      at.power[i] = choose(far, quick_exponential((at.m - at.rest) * of.t[i]), at.power[i]);
  }
  at.good &= ~searching & (at.m > lowest_power) & (at.m < highest_power);
  at.at_end = flags{};
  rest_line(sums, at);
}

template <class Group>
REWOUND_IN_LANES void settle_at(const Group& g, const bent_problem& of, const bounded_power& from, found_power& to) {
  to.m = from.m;
  to.rest = lanes{};
  to.good = from.good;
  to.at_end = (to.m <= lowest_power) | (to.m >= highest_power);
  take_bent_powers(g, of, to.m, to.power);
  rest_line(sums_of_bent(g, of, to.power), to);
}

/// The curve at its m in orthogonal parts: the line, what x^m has beyond it, and what x^m ln x has beyond both.
/// Projections are explicit: differences of sums would leave no digits where x^m is almost x.
struct bent_parts {
  lanes s;           ///< of the line in x^m
  lanes c1;          ///< of the line in x^m t
  lanes c2;          ///< of the second part in x^m t
  lanes b;           ///< level of the second part
  lanes per_second;  ///< 1 / its square summed
  lanes third;       ///< square of the third part summed
  lanes turning;  ///< how sharply the direction of the second part turns as m grows: curvature on the sphere, squared
  lanes chi2;
  flags told;  ///< the parts stand out of rounding, and a further step of m would not lower chi2
};

template <class Group>
REWOUND_IN_LANES bent_parts parts_at(const Group& g, const bent_problem& of, const found_power& at) {
  lanes bent[most], turned[most], twisted[most];
  bent_parts out;
  out.s = at.u * of.per_line;
  out.c1 = at.u1 * of.per_line;
  const lanes c3 = at.u2 * of.per_line;
  lanes d{}, n{}, e{}, cross{}, cross_twist{}, whole_third{};
  for (int i = 0; i < g.readings; ++i) {
    const lanes power = at.power[i] * tiny_exponential(at.rest * of.t[i]);
    const lanes with_t = power * of.t[i];
    bent[i] = power - out.s * of.line[i];
    turned[i] = with_t - out.c1 * of.line[i];
    twisted[i] = with_t * of.t[i] - c3 * of.line[i];
    const lanes w = g.weight[i] * bent[i];
    n += w * of.across[i];
    d += w * bent[i];
    cross += w * turned[i];
    cross_twist += w * twisted[i];
    e += g.weight[i] * power * power;
    whole_third += g.weight[i] * with_t * with_t;
  }
  out.per_second = reciprocal(d);
  out.b = n * out.per_second;
  out.c2 = cross * out.per_second;
  const lanes c4 = cross_twist * out.per_second;
  out.chi2 = out.third = lanes{};
  lanes fourth{}, along_third{}, left_along{};
  for (int i = 0; i < g.readings; ++i) {
    const lanes deviation = of.across[i] - out.b * bent[i];
    const lanes off = turned[i] - out.c2 * bent[i];
    const lanes beyond = twisted[i] - c4 * bent[i];
    const lanes w_off = g.weight[i] * off;
    out.chi2 += g.weight[i] * deviation * deviation;
    out.third += w_off * off;
    left_along += w_off * deviation;
    along_third += w_off * beyond;
    fourth += g.weight[i] * beyond * beyond;
  }
  out.turning =
      (fourth * out.third - along_third * along_third) * d;  // over third^3, which one_bent_minimum multiplies
  const flags settled = at.at_end | (left_along * left_along <= (1e-9 * out.chi2 + 1e-28 * of.total) * out.third);
  out.told = settled & (d > 1e-9 * e) & (out.third > 1e-9 * whole_third) & (n * out.b > 1e-20 * of.total);
  return out;
}

/// Whether no other m can do as well.
///
/// Directions of the second part lie on a sphere, and the cosine between those of m and m' falls as m' moves away from
/// m: it is a totally positive kernel's (S. Karlin, Total Positivity, 1968; from memory, unverified). The currents'
/// direction is at an angle q from m's. One that does as well lies within 2 q of m's and within 3 q of the currents,
/// and up to there the cosine to the currents bends down throughout as long as the curvature times tan 3q is below 1:
/// then its top is the only one. The curvature is known at m; 0.7 leaves room for its change.
REWOUND_IN_LANES flags one_bent_minimum(const bent_parts& parts, const bent_problem& of) {
  const lanes c = parts.chi2;
  const lanes r = of.left - c;
  const lanes tangent = 3.0 * r - c;
  const lanes base = r - 3.0 * c;
  const lanes third = parts.third * parts.third * parts.third;
  return (base > 0.0) & (parts.turning * c * tangent * tangent < 0.49 * base * base * r * third);
}

/// Parameters and covariance from the orthogonal parts.
template <class Group>
REWOUND_IN_LANES bent_parts finish_magnetising(const Group& g, const bent_problem& of, const found_power& at,
                                               group_answers<3>& out) {
  const bent_parts parts = parts_at(g, of, at);
  const lanes per_power = exponential(-at.m * of.top);
  const lanes scale = parts.chi2 * g.per_freedom;
  const lanes inverse = reciprocal(parts.third * parts.b);
  const lanes m2 = inverse * parts.third;  // 1 / b
  const lanes v0 = scale * of.per_line * of.inverse_top * of.inverse_top;
  const lanes v1 = scale * parts.per_second;
  const lanes v2 = scale * (inverse * parts.b);
  // Rows of what turns the three parts into a, b and m.
  const lanes a1 = -parts.s * of.inverse_top;
  const lanes a2 = (parts.s * parts.c2 - parts.c1) * of.inverse_top;
  const lanes b2 = -(parts.c2 + of.top) * per_power;
  out.parameter[0] = (of.along - parts.b * parts.s) * of.inverse_top;
  out.parameter[1] = parts.b * per_power;
  out.parameter[2] = at.m;
  out.covariance[0] = v0 + a1 * a1 * v1 + a2 * a2 * v2;
  out.covariance[1] = out.covariance[3] = a1 * per_power * v1 + a2 * b2 * v2;
  out.covariance[2] = out.covariance[6] = a2 * m2 * v2;
  out.covariance[4] = per_power * per_power * v1 + b2 * b2 * v2;
  out.covariance[5] = out.covariance[7] = b2 * m2 * v2;
  out.covariance[8] = m2 * m2 * v2;
  out.chi2 = parts.chi2;
  out.certified = at.good & parts.told & g.sound & (g.count > 2.5) & told(g, out.covariance[0]) &
                  told(g, out.covariance[4]) & told(g, out.covariance[8]) & finite(out.parameter[1]);
  return parts;
}

/// Where to begin: the slopes at a few whole m, whose powers are products, tell between which two chi2 is least.
template <class Group>
REWOUND_IN_LANES lanes guess_power(const Group& g, const bent_problem& of, flags& one_way) {
  constexpr double tried[] = {2.0, 3.0, 5.0, 8.0};
  constexpr double middle_below = 1.6;
  constexpr double middle_above = 9.8;
  lanes power[most];
  for (int i = 0; i < g.readings; ++i) power[i] = of.line[i] * of.line[i];
  lanes before = tried[0] * fall_at(g, of, power);
  lanes guess = middle_below;
  one_way = all_flags();
  for (int k = 1; k < 4; ++k) {
    for (int i = 0; i < g.readings; ++i) {
      power[i] *= of.line[i];
      if (k > 1) power[i] *= of.line[i];
      if (k > 2) power[i] *= of.line[i];
    }
    const lanes here = tried[k] * fall_at(g, of, power);
    const lanes part = before * reciprocal(before - here);
    const double ratio = tried[k] / tried[k - 1] - 1.0;  // m on a scale of logarithms, by its middle
    const double curve = 0.5 * ratio / (1.0 + 0.5 * ratio);
    const lanes m = tried[k - 1] * (1.0 + part * ratio * (1.0 - curve * (1.0 - part)));
    guess = choose(before > 0.0, choose(here > 0.0, middle_above, m), guess);
    one_way &= (before > 0.0) | (here <= 0.0);
    before = here;
  }
  return guess;
}

/// For curves that lie near their readings and have one minimum.
template <class Group>
REWOUND_IN_LANES void fit_magnetising_group(const Group& g, group_answers<3>& out) {
  constexpr double widest = 1.6;
  bent_problem problem;
  found_power found;
  take_problem(g, problem);
  flags one_way;
  search_bent(g, problem, guess_power(g, problem, one_way), found);
  const auto parts = finish_magnetising(g, problem, found, out);
  out.certified &= one_way & one_bent_minimum(parts, problem) & (problem.spread < widest);
}

/// Steps too small to hide a minimum, and the lowest of all that they find.
template <class Group>
REWOUND_IN_LANES void scan_magnetising_group(const Group& g, group_answers<3>& out) {
  constexpr double widest = 2.5;
  bent_problem problem;
  take_problem(g, problem);
  const minima found = scan(g, problem);
  bounded_power best = refine(g, problem, found.low[0], found.high[0], found.start[0]);
  for (int k = 1; k < most_minima && any(found.count > k); ++k) {
    const auto other = refine(g, problem, found.low[k], found.high[k], found.start[k]);
    const flags there = found.count > k;
    const flags better = there & (other.explained > best.explained);
    best.m = choose(better, other.m, best.m);
    best.explained = choose(better, other.explained, best.explained);
    best.good &= other.good | ~there;
  }
  found_power settled;
  settle_at(g, problem, best, settled);
  finish_magnetising(g, problem, settled, out);
  out.certified &= (found.count > 0.5) & (found.count < most_minima + 0.5) & (problem.spread < widest);
}

}  // namespace
}  // namespace rewound::fit
