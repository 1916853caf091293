// SPDX-License-Identifier: MIT
#pragma once

#include "group.hpp"

namespace rewound::fit {
namespace {

/// A power law's exponent and a multiple of x^n, the same one for every reading: near the currents themselves.
struct power_state {
  lanes n;
  lanes log_unit;  ///< ln of that multiple
  lanes rest;      ///< what n is ahead of the powers: a last step, too small to take them along
  lanes power[most];
};

/// What the level and the exponent are found from: p . e^(nz) and w . e^(2nz) with powers of z. In a plain fit p = w I.
struct power_sums {
  lanes s0, s1, s2, s3;
  lanes t0, t1, t2, t3, t4;
};

template <class Group, class Pull, class Weight>
REWOUND_IN_LANES power_sums sums_of(const Group& g, const power_state& at, const Pull& pull, const Weight& weight) {
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
    q *= z;
    out.s3 += p * z;
    out.t3 += q;
    out.t4 += q * z;
  }
  return out;
}

/// The sums in another unit, so that products of several stay within the numbers there are.
REWOUND_IN_LANES void scale_sums(power_sums& sums, lanes by) {
  auto& [s0, s1, s2, s3, t0, t1, t2, t3, t4] = sums;
  s0 *= by, s1 *= by, s2 *= by, s3 *= by;
  t0 *= by, t1 *= by, t2 *= by, t3 *= by, t4 *= by;
}

/// A step towards the top of ln S - ln T / 2, where the sum of squares with the best level is least.
struct exponent_step {
  lanes by;
  flags towards_top;  ///< the function bends down here
};

/// Halley's step, by the third derivative closer than Newton's: all over one division, which is dear. The sums are
/// near 1.
REWOUND_IN_LANES exponent_step step_of(const power_sums& sums) {
  const auto& [s0, s1, s2, s3, t0, t1, t2, t3, t4] = sums;
  const lanes ss = s0 * s0;
  const lanes tt = t0 * t0;
  const lanes st = s0 * t0;
  const lanes of_s = s2 * s0 - s1 * s1;
  const lanes of_t = t2 * t0 - t1 * t1;
  const lanes bend = of_s * tt - 2.0 * (of_t * ss);
  const lanes inverse = reciprocal(bend * st);
  const lanes newton = (t1 * s0 - s1 * t0) * (st * st) * inverse;
  const lanes twist_s = s3 * ss - s1 * (3.0 * of_s + s1 * s1);
  const lanes twist_t = t3 * tt - t1 * (3.0 * of_t + t1 * t1);
  const lanes correction = 0.5 * newton * (twist_s * (tt * t0) - 4.0 * (twist_t * (ss * s0))) * inverse;
  return {halley_step(newton, correction), bend < -1e-14 * (st * st)};
}

/// e^d for any d, quickly where all lanes are small. Which way a curve takes depends on nothing beside it.
template <class Group, class Exponent, class Quick>
REWOUND_IN_LANES void take_powers(const Group& g, const Exponent& exponent, const Quick& quick, power_state& at) {
  lanes largest{};
  for (int i = 0; i < g.readings; ++i) {
    const lanes d = exponent(i);
    largest = greater(largest, size_of(d));
    at.power[i] = quick(i) * small_exponential(d);
  }
  const flags far = ~(largest <= small_exponent);
  if (!any(far)) return;
  for (int i = 0; i < g.readings; ++i)
    at.power[i] = choose(far, exponential(at.log_unit + (at.n - at.rest) * g.z[i]), at.power[i]);
}

/// Takes the powers along by a step of the exponent.
template <class Group>
REWOUND_IN_LANES void move_powers(const Group& g, lanes by, power_state& at) {
  take_powers(
      g, [&](int i) { return by * g.z[i]; }, [&](int i) { return at.power[i]; }, at);
}

/// The least-squares line of ln I over ln x under some weights. `total` becomes their sum, `per_total` 1 over it.
template <class Group, class Weight>
REWOUND_IN_LANES flags start_line(const Group& g, const Weight& weight, power_state& at, lanes& total,
                                  lanes& per_total) {
  lanes w0{}, wz{}, wzz{}, wl{}, wzl{}, reach{};
  lanes l[most];
  for (int i = 0; i < g.readings; ++i) {
    const lanes w = weight(i);
    l[i] = logarithm(g.current[i]);
    w0 += w;
    const lanes weighted_z = w * g.z[i];
    wz += weighted_z;
    wzz += weighted_z * g.z[i];
    wl += w * l[i];
    wzl += weighted_z * l[i];
    reach = greater(reach, size_of(g.z[i]));
  }
  const lanes spread = w0 * wzz - wz * wz;
  const lanes inverse = reciprocal(w0 * spread);
  per_total = inverse * spread;
  at.n = (w0 * wzl - wz * wl) * (w0 * inverse);
  at.log_unit = (wl - at.n * wz) * per_total;
  const flags told =
      (spread > 1e-9 * w0 * wzz) & (size_of(at.n) * (1.0 + reach) < 100.0) & (size_of(at.log_unit) < 300.0);
  at.n = choose(told, at.n, 1.0);
  at.log_unit = choose(told, at.log_unit, lanes{});
  at.rest = lanes{};
  take_powers(
      g, [&](int i) { return (at.log_unit - l[i]) + at.n * g.z[i]; }, [&](int i) { return g.current[i]; }, at);
  total = w0;
  return told;
}

/// Weighted as in the sum itself: what a fit in currents is to first order in the deviations. The weights' sum is that
/// of w I^2.
template <class Group>
REWOUND_IN_LANES flags start_power(const Group& g, power_state& at, lanes& total, lanes& per_total) {
  return start_line(
      g, [&](int i) { return g.weight[i] * g.current[i] * g.current[i]; }, at, total, per_total);
}

constexpr int most_steps = 12;

/// Below this a further step of third order would change nothing, and four orders of it are all that counts.
constexpr double last_step = 2e-4;

/// Steps until every curve has its exponent. The last one leaves the powers behind; `sums` are those of the powers,
/// over `total`.
template <class Group>
REWOUND_IN_LANES flags search_power(const Group& g, lanes per_total, power_state& at, power_sums& sums) {
  flags searching = all_flags();
  flags good = searching;
  const auto pull = [&](int i) { return g.weight[i] * g.current[i]; };
  const auto weight = [&](int i) { return g.weight[i]; };
  for (int k = 0; k < most_steps; ++k) {
    sums = sums_of(g, at, pull, weight);
    scale_sums(sums, per_total);
    const auto step = step_of(sums);
    good = choose(searching, step.towards_top & (size_of(step.by) < 50.0), good);
    const lanes by = choose(searching & good, step.by, lanes{});
    const flags last = searching & (size_of(by) <= last_step);
    at.n += by;
    at.rest = choose(last, by, at.rest);
    searching &= good & ~last;
    if (!any(searching)) break;
    move_powers(g, choose(searching, by, lanes{}), at);
  }
  return good & ~searching;
}

/// The powers at the exponent itself.
REWOUND_IN_LANES lanes rested(const power_state& at, lanes z, int i) {
  return at.power[i] * tiny_exponential(at.rest * z);
}

/// The sums at an exponent that lies ahead of the powers.
REWOUND_IN_LANES void rest_sums(lanes rest, power_sums& sums) {
  sums.s0 += rest * (sums.s1 + rest * (0.5 * sums.s2 + (1.0 / 6.0) * (rest * sums.s3)));
  const lanes twice = 2.0 * rest;
  sums.t0 += twice * (sums.t1 + twice * (0.5 * sums.t2 + (1.0 / 6.0) * (twice * sums.t3)));
  sums.t1 += twice * (sums.t2 + twice * (0.5 * sums.t3 + (1.0 / 6.0) * (twice * sums.t4)));
  sums.t2 += twice * (sums.t3 + 0.5 * (twice * sums.t4));
}

/// Where a plain search ended.
struct power_end {
  power_state at;
  power_sums sums;  ///< at the exponent itself, over `total`
  lanes total;      ///< sum of w I^2
  lanes per_total;  ///< 1 over it
  flags good;
};

/// Nearer than this share of the sum of w I^2 chi2 has one minimum: another exponent that does as well has powers
/// within twice the angle of these, and within it the function bends down throughout.
constexpr double one_minimum = 0.02;

/// The end next to the line.
template <class Group>
REWOUND_IN_LANES void search_plain(const Group& g, power_end& to) {
  to.good = start_power(g, to.at, to.total, to.per_total);
  to.good &= search_power(g, to.per_total, to.at, to.sums);
  rest_sums(to.at.rest, to.sums);
}

/// From that line and from the one that counts all readings alike, as detail::search_lines: the lower of both ends.
template <class Group>
REWOUND_IN_LANES void search_from_both(const Group& g, power_end& to) {
  power_state at;
  power_sums sums;
  lanes count, per_count;
  search_plain(g, to);
  to.good &= start_line(
      g, [&](int i) { return choose(g.weight[i] > 0.0, lanes(1.0), lanes{}); }, at, count, per_count);
  to.good &= search_power(g, to.per_total, at, sums);
  rest_sums(at.rest, sums);
  const flags lower = sums.s0 * sums.s0 * to.sums.t0 > to.sums.s0 * to.sums.s0 * sums.t0;
  to.at.n = choose(lower, at.n, to.at.n);
  to.at.log_unit = choose(lower, at.log_unit, to.at.log_unit);
  to.at.rest = choose(lower, at.rest, to.at.rest);
  for (int i = 0; i < g.readings; ++i) to.at.power[i] = choose(lower, at.power[i], to.at.power[i]);
  to.sums.s0 = choose(lower, sums.s0, to.sums.s0);
  to.sums.s1 = choose(lower, sums.s1, to.sums.s1);
  to.sums.t0 = choose(lower, sums.t0, to.sums.t0);
  to.sums.t1 = choose(lower, sums.t1, to.sums.t1);
  to.sums.t2 = choose(lower, sums.t2, to.sums.t2);
}

/// What a fit's covariance is made of, in the unit of the powers.
struct power_moments {
  lanes level;
  lanes per_t0;  ///< 1 over the sum of weighted squares of the powers
  lanes middle;  ///< mean of z under those squares
  lanes of_n;    ///< variance of the exponent where the readings' is 1
};

template <class Group>
REWOUND_IN_LANES void tell_power(const Group& g, const power_state& at, const power_moments& found, lanes chi2,
                                 group_answers<2>& out) {
  const lanes scale = chi2 * g.per_freedom;
  const lanes unit = exponential(at.log_unit);
  const lanes of_n = scale * found.of_n;
  const lanes along = found.level * found.middle;
  const lanes with_n = -along * of_n;
  out.parameter[0] = found.level * unit;
  out.parameter[1] = at.n;
  out.covariance[0] = (scale * found.per_t0 - along * with_n) * unit * unit;
  out.covariance[1] = out.covariance[2] = with_n * unit;
  out.covariance[3] = of_n;
  out.chi2 = chi2;
}

/// Answers from the sums; chi2 from the deviations themselves, since a difference of sums would leave it no digits.
template <class Group>
REWOUND_IN_LANES void finish_plain(const Group& g, const power_end& end, group_answers<2>& out) {
  const auto& [s0, s1, s2, s3, t0, t1, t2, t3, t4] = end.sums;
  const lanes of_t = t2 * t0 - t1 * t1;
  const lanes ss = s0 * s0;
  const lanes inverse = reciprocal(t0 * (ss * of_t));
  const lanes per_t0 = inverse * (ss * of_t);
  const lanes tt = t0 * t0;
  const power_moments found{s0 * per_t0, per_t0 * end.per_total, t1 * per_t0, tt * tt * inverse * end.per_total};
  lanes chi2{};
  for (int i = 0; i < g.readings; ++i) {
    const lanes deviation = g.current[i] - found.level * rested(end.at, g.z[i], i);
    chi2 += g.weight[i] * deviation * deviation;
  }
  tell_power(g, end.at, found, chi2, out);
  out.certified = end.good & g.sound & (g.count > 1.5) & told(g, out.covariance[0]) & told(g, out.covariance[3]);
}

template <class Group>
REWOUND_IN_LANES void fit_power_group(const Group& g, group_answers<2>& out) {
  power_end end;
  search_plain(g, end);
  finish_plain(g, end, out);
  out.certified &= out.chi2 <= one_minimum * end.total;
}

/// For readings that scatter.
template <class Group>
REWOUND_IN_LANES void fit_power_at_length(const Group& g, group_answers<2>& out) {
  power_end end;
  search_from_both(g, end);
  finish_plain(g, end, out);
}

}  // namespace
}  // namespace rewound::fit
