// SPDX-License-Identifier: MIT
#pragma once

#include "group.hpp"

namespace rewound::curves {
namespace {

/// A power law's exponent and x^n of every reading.
struct power_state {
  lanes n;
  lanes rest;          ///< what n is ahead of the powers: a last step, too small to take them along
  lanes power[most];
};

/// What the level and the exponent are found from: p . e^(nz) and w . e^(2nz) with powers of z. In a plain fit p = w I.
struct power_sums {
  lanes s0, s1, s2, s3;
  lanes t0, t1, t2, t3;
};

template <class Group, class Pull, class Weight>
REWOUND_INLINE power_sums sums_of(const Group& g, const power_state& at, const Pull& pull, const Weight& weight) {
  power_sums out{};
  for (int i = 0; i < g.readings; ++i) {
    const lanes z = g.z[i];
    lanes p = pull(i) * at.power[i];
    lanes q = weight(i) * (at.power[i] * at.power[i]);
    out.s0 += p;
    out.t0 += q;
    p *= z;
    q *= z;
    out.s1 += p;
    out.t1 += q;
    p *= z;
    q *= z;
    out.s2 += p;
    out.t2 += q;
    out.s3 += p * z;
    out.t3 += q * z;
  }
  return out;
}

/// A step towards the top of ln S - ln T / 2, where the sum of squares with the best level is least.
struct exponent_step {
  lanes by;
  flags towards_top;  ///< the function bends down here
};

/// Halley's step, by the third derivative closer than Newton's.
REWOUND_INLINE exponent_step step_of(const power_sums& sums) {
  const lanes both = 1.0 / (sums.s0 * sums.t0);  // divisions are dear
  const lanes s = both * sums.t0;
  const lanes t = both * sums.s0;
  const lanes s1 = sums.s1 * s;
  const lanes t1 = sums.t1 * t;
  const lanes s2 = sums.s2 * s;
  const lanes t2 = sums.t2 * t;
  const lanes slope = s1 - t1;
  const lanes of_s = s2 - s1 * s1;
  const lanes of_t = t2 - t1 * t1;
  const lanes bend = of_s - 2.0 * of_t;
  const lanes twist = (sums.s3 * s - s1 * (3.0 * of_s + s1 * s1)) - 4.0 * (sums.t3 * t - t1 * (3.0 * of_t + t1 * t1));
  const lanes inverse = 1.0 / bend;
  const lanes newton = -slope * inverse;
  lanes correction = 0.5 * newton * twist * inverse;
  correction = greater(lesser(correction, all_lanes(0.5)), all_lanes(-0.5));
  return {newton * (1.0 - correction), bend < -1e-14};
}

/// Moves the exponent: short steps by the short polynomial. Which one a curve takes depends on nothing beside it.
template <class Group>
REWOUND_INLINE void move_exponent(const Group& g, lanes reach, lanes by, power_state& at) {
  at.n += by;
  const flags far = size_of(by) * reach > small_exponent;
  const bool some_far = any(far);
  for (int i = 0; i < g.readings; ++i) {
    const lanes moved = at.power[i] * small_exponential(by * g.z[i]);
    at.power[i] = some_far ? (far ? exponential(at.n * g.z[i]) : moved) : moved;
  }
}

/// The largest |z|.
template <class Group>
REWOUND_INLINE lanes reach_of(const Group& g) {
  lanes reach{};
  for (int i = 0; i < g.readings; ++i) reach = greater(reach, size_of(g.z[i]));
  return reach;
}

/// The least-squares line of ln I over ln x, weighted as in the sum itself; `total` becomes the sum of w I^2.
template <class Group>
REWOUND_INLINE flags start_power(const Group& g, lanes reach, power_state& at, lanes& total) {
  lanes w0{}, wz{}, wzz{}, wl{}, wzl{};
  for (int i = 0; i < g.readings; ++i) {
    const lanes w = g.weight[i] * g.current[i] * g.current[i];
    const lanes l = rough_logarithm(g.current[i]);
    w0 += w;
    const lanes weighted_z = w * g.z[i];
    wz += weighted_z;
    wzz += weighted_z * g.z[i];
    wl += w * l;
    wzl += weighted_z * l;
  }
  const lanes spread = w0 * wzz - wz * wz;
  at.n = (w0 * wzl - wz * wl) / spread;
  const flags told = (spread > 1e-9 * w0 * wzz) & (size_of(at.n) * reach < 300.0);
  at.n = told ? at.n : all_lanes(1.0);
  at.rest = lanes{};
  for (int i = 0; i < g.readings; ++i) at.power[i] = quick_exponential(at.n * g.z[i]);
  total = w0;
  return told;
}

constexpr int most_steps = 12;

/// Below this a further step of third order would change nothing.
constexpr double last_step = 1e-6;

/// Steps until every curve has its exponent. The last one leaves the powers behind, and `sums` are those of the powers.
template <class Group>
REWOUND_INLINE flags search_power(const Group& g, lanes reach, power_state& at, power_sums& sums) {
  flags searching = flags{} - 1;
  flags good = searching;
  const auto pull = [&](int i) { return g.weight[i] * g.current[i]; };
  const auto weight = [&](int i) { return g.weight[i]; };
  for (int k = 0; k < most_steps; ++k) {
    sums = sums_of(g, at, pull, weight);
    const auto step = step_of(sums);
    good = searching ? step.towards_top & (flags)(size_of(step.by) * (1.0 + reach) < 100.0) : good;
    const lanes by = searching & good ? step.by : lanes{};
    const flags last = searching & (flags)(size_of(by) <= last_step);
    at.n += last ? by : lanes{};
    at.rest = last ? by : at.rest;
    searching &= good & ~last;
    if (!any(searching)) break;
    move_exponent(g, reach, searching ? by : lanes{}, at);
  }
  return good & ~searching;
}

/// The powers at the exponent itself.
REWOUND_INLINE lanes rested(const power_state& at, lanes z, int i) {
  const lanes ahead = at.rest * z;
  return at.power[i] * (1.0 + ahead * (1.0 + 0.5 * ahead));
}

/// The sums moved to the exponent itself.
REWOUND_INLINE void rest_sums(const power_state& at, power_sums& sums) {
  sums.s0 += at.rest * (sums.s1 + 0.5 * at.rest * sums.s2);
  const lanes twice = 2.0 * at.rest;
  sums.t0 += twice * (sums.t1 + at.rest * sums.t2);
  sums.t1 += twice * (sums.t2 + at.rest * sums.t3);
  sums.t2 += twice * sums.t3;
}

/// Parameters and covariance of a curve whose chi2 is found.
///
/// @param per_t0  1 over the sum of weighted squares of the powers
/// @param middle  mean of z under those squares
/// @param spread  sum of those squares times the squared distance of z from the middle
template <class Group>
REWOUND_INLINE void tell_power(const Group& g, lanes level, lanes n, lanes chi2, lanes per_t0, lanes middle, lanes spread,
                               group_answers<2>& out) {
  const lanes scale = chi2 / (g.count - 2.0);
  const lanes of_n = scale / (level * level * spread);
  const lanes with_n = -level * middle * of_n;
  out.parameter[0] = level;
  out.parameter[1] = n;
  out.covariance[0] = scale * per_t0 - level * middle * with_n;
  out.covariance[1] = out.covariance[2] = with_n;
  out.covariance[3] = of_n;
  out.chi2 = chi2;
}

/// Answers from the sums; chi2 from the deviations themselves, since a difference of sums would leave it no digits.
template <class Group>
REWOUND_INLINE void finish_plain(const Group& g, const power_state& at, power_sums sums, group_answers<2>& out) {
  rest_sums(at, sums);
  const lanes per_t0 = 1.0 / sums.t0;
  const lanes level = sums.s0 * per_t0;
  const lanes middle = sums.t1 * per_t0;
  lanes chi2{};
  for (int i = 0; i < g.readings; ++i) {
    const lanes deviation = g.current[i] - level * rested(at, g.z[i], i);
    chi2 += g.weight[i] * deviation * deviation;
  }
  tell_power(g, level, at.n, chi2, per_t0, middle, sums.t2 - sums.t1 * middle, out);
}

/// Level, covariance and chi2 at the exponent found, from the deviations themselves: differences of sums would leave
/// chi2 no digits where a curve is close. Shares of the weights in the covariance are a robust fit's.
template <class Group, class Share>
REWOUND_INLINE void finish_power(const Group& g, const power_state& at, lanes level, const Share& share,
                                 group_answers<2>& out) {
  lanes t0{}, t1{}, chi2{};
  lanes shared[most];
  for (int i = 0; i < g.readings; ++i) {
    const lanes deviation = g.current[i] - level * at.power[i];
    const lanes w = g.weight[i] * share(i, deviation);
    shared[i] = w * at.power[i] * at.power[i];
    t0 += shared[i];
    t1 += shared[i] * g.z[i];
    chi2 += w * deviation * deviation;
  }
  const lanes per_t0 = 1.0 / t0;
  const lanes middle = t1 * per_t0;
  lanes t2{};
  for (int i = 0; i < g.readings; ++i) {
    const lanes off = g.z[i] - middle;
    t2 += shared[i] * off * off;
  }
  tell_power(g, level, at.n, chi2, per_t0, middle, t2, out);
}

/// Nearer than this share of the sum of w I^2 chi2 has one minimum: another exponent that does as well has powers
/// within twice the angle of these, and within it the function bends down throughout.
constexpr double one_minimum = 0.02;

template <class Group>
REWOUND_INLINE void fit_power_group(const Group& g, group_answers<2>& out) {
  power_state at;
  power_sums sums;
  lanes total;
  const lanes reach = reach_of(g);
  flags good = start_power(g, reach, at, total);
  good &= search_power(g, reach, at, sums);
  finish_plain(g, at, sums, out);
  out.certified = good & g.sound & (flags)(g.count > 2.5) & (flags)(out.chi2 <= one_minimum * total) &
                  finite(out.covariance[0]) & finite(out.covariance[3]);
}

}  // namespace
}  // namespace rewound::curves
