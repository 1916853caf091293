// SPDX-License-Identifier: MIT
#pragma once

#include "power_kernel.hpp"

namespace rewound::fit {
namespace {

/// e^(n z + c z^2) of every reading, with z from its weighted mean: a narrow range of voltages keeps its digits.
struct parabola_state {
  lanes centre;
  lanes z[most];
  lanes n;
  lanes c;
  lanes shape[most];
};

template <class Group>
REWOUND_IN_LANES void take_shape(const Group& g, parabola_state& at) {
  for (int i = 0; i < g.readings; ++i) at.shape[i] = exponential(at.z[i] * (at.n + at.c * at.z[i]));
}

template <class Group>
REWOUND_IN_LANES void centre_logarithms(const Group& g, parabola_state& at) {
  lanes w0{}, wz{};
  for (int i = 0; i < g.readings; ++i) {
    const lanes w = g.weight[i] * g.current[i] * g.current[i];
    w0 += w;
    wz += w * g.z[i];
  }
  at.centre = wz / w0;
  for (int i = 0; i < g.readings; ++i) at.z[i] = g.z[i] - at.centre;
}

/// The least-squares parabola of ln I over ln x, weighted as in the sum itself.
template <class Group>
REWOUND_IN_LANES flags start_parabola(const Group& g, parabola_state& at) {
  centre_logarithms(g, at);
  lanes m0{}, m2{}, m3{}, m4{}, l0{}, l1{}, l2{};
  for (int i = 0; i < g.readings; ++i) {
    const lanes z = at.z[i];
    const lanes w = g.weight[i] * g.current[i] * g.current[i];
    const lanes l = w * logarithm(g.current[i]);
    const lanes w2 = w * z * z;
    m0 += w;
    m2 += w2;
    m3 += w2 * z;
    m4 += w2 * z * z;
    l0 += l;
    l1 += l * z;
    l2 += l * z * z;
  }
  const lanes skew = m3 / m2;
  const lanes height = m2 / m0;
  const lanes left = m4 - m2 * height - m3 * skew;
  at.c = (l2 - height * l0 - skew * l1) / left;
  at.n = l1 / m2 - at.c * skew;
  const flags told = (left > 1e-7 * m4) & (size_of(at.c) < 1000.0) & (size_of(at.n) < 1000.0);
  at.c = choose(told, at.c, lanes{});
  at.n = choose(told, at.n, 1.0);
  take_shape(g, at);
  return told;
}

/// Moments of z under p . e and w . e^2, from the first to the fourth, over the zeroth.
struct moments {
  lanes whole, one, two, three, four;
};

REWOUND_IN_LANES void add(moments& to, lanes value, lanes z) {
  to.whole += value;
  value *= z;
  to.one += value;
  value *= z;
  to.two += value;
  value *= z;
  to.three += value;
  to.four += value * z;
}

REWOUND_IN_LANES void divide(moments& of) {
  const lanes inverse = 1.0 / of.whole;
  of.one *= inverse;
  of.two *= inverse;
  of.three *= inverse;
  of.four *= inverse;
}

struct parabola_step {
  lanes n;
  lanes c;
  flags towards_top;
};

/// Newton's step towards the top of ln S - ln T / 2 over n and c.
template <class Group>
REWOUND_IN_LANES parabola_step parabola_step_of(const Group& g, const parabola_state& at) {
  moments s{}, t{};
  for (int i = 0; i < g.readings; ++i) {
    const lanes of_shape = g.weight[i] * at.shape[i];
    add(s, of_shape * g.current[i], at.z[i]);
    add(t, of_shape * at.shape[i], at.z[i]);
  }
  divide(s);
  divide(t);
  const lanes of_n = s.one - t.one;
  const lanes of_c = s.two - t.two;
  const lanes nn = (s.two - s.one * s.one) - 2.0 * (t.two - t.one * t.one);
  const lanes nc = (s.three - s.one * s.two) - 2.0 * (t.three - t.one * t.two);
  const lanes cc = (s.four - s.two * s.two) - 2.0 * (t.four - t.two * t.two);
  const lanes determinant = nn * cc - nc * nc;
  const lanes inverse = 1.0 / determinant;
  return {(nc * of_c - cc * of_n) * inverse, (nc * of_n - nn * of_c) * inverse,
          (nn < 0.0) & (determinant > 1e-9 * nn * cc)};
}

/// Newton's steps gain by the square: below this the next one would change nothing.
constexpr double last_newton_step = 1e-7;

template <class Group>
REWOUND_IN_LANES flags search_parabola(const Group& g, parabola_state& at) {
  lanes reach{};
  for (int i = 0; i < g.readings; ++i) reach = greater(reach, size_of(at.z[i]));
  flags searching = all_flags();
  flags good = searching;
  for (int k = 0; k < most_steps && any(searching); ++k) {
    const auto step = parabola_step_of(g, at);
    const lanes change = reach * (size_of(step.n) + reach * size_of(step.c));
    good = choose(searching, step.towards_top & (change < 2.0), good);
    const flags moving = searching & good;
    at.n += choose(moving, step.n, lanes{});
    at.c += choose(moving, step.c, lanes{});
    take_shape(g, at);
    searching &= good & (change > last_newton_step);
  }
  return good & ~searching;
}

/// Functions orthogonal under w e^2: 1, z - mean and the square less its parts along both.
struct parabola_basis {
  lanes mean;        ///< of z
  lanes height;      ///< of z^2 along 1
  lanes skew;        ///< of z^2 along z - mean
  lanes t0, t1, t2;  ///< their squares summed
};

template <class Group>
REWOUND_IN_LANES parabola_basis basis_of(const Group& g, const parabola_state& at) {
  parabola_basis out{};
  lanes one{}, two{}, skew{};
  for (int i = 0; i < g.readings; ++i) {
    const lanes q = g.weight[i] * at.shape[i] * at.shape[i];
    out.t0 += q;
    one += q * at.z[i];
    two += q * at.z[i] * at.z[i];
  }
  out.mean = one / out.t0;
  out.height = two / out.t0;
  for (int i = 0; i < g.readings; ++i) {
    const lanes off = at.z[i] - out.mean;
    const lanes q = g.weight[i] * at.shape[i] * at.shape[i] * off;
    out.t1 += q * off;
    skew += q * at.z[i] * at.z[i];
  }
  out.skew = skew / out.t1;
  for (int i = 0; i < g.readings; ++i) {
    const lanes off = at.z[i] * at.z[i] - out.height - out.skew * (at.z[i] - out.mean);
    out.t2 += g.weight[i] * at.shape[i] * at.shape[i] * off * off;
  }
  return out;
}

/// Parameters and covariance over ln x itself: z there is `centre` more than here.
template <class Group>
REWOUND_IN_LANES void finish_parabola(const Group& g, const parabola_state& at, lanes level, lanes chi2,
                                      group_answers<3>& out) {
  const parabola_basis basis = basis_of(g, at);
  const lanes k = at.centre;
  const lanes scale = chi2 * g.per_freedom / (level * level);
  const lanes v0 = scale / basis.t0;
  const lanes v1 = scale / basis.t1;
  const lanes v2 = scale / basis.t2;
  const lanes mean = basis.mean + k;
  const lanes slope = 2.0 * k + basis.skew;
  const lanes height = k * k - basis.height + basis.skew * mean;
  out.parameter[0] = logarithm(level) - k * (at.n - at.c * k);
  out.parameter[1] = at.n - 2.0 * at.c * k;
  out.parameter[2] = at.c;
  out.covariance[0] = v0 + mean * mean * v1 + height * height * v2;
  out.covariance[1] = out.covariance[3] = -mean * v1 - slope * height * v2;
  out.covariance[2] = out.covariance[6] = height * v2;
  out.covariance[4] = v1 + slope * slope * v2;
  out.covariance[5] = out.covariance[7] = -slope * v2;
  out.covariance[8] = v2;
  out.chi2 = chi2;
}

template <class Group>
REWOUND_IN_LANES void fit_log_quadratic_group(const Group& g, group_answers<3>& out) {
  parabola_state at;
  flags good = start_parabola(g, at);
  good &= search_parabola(g, at);
  lanes s{}, t{}, total{}, chi2{};
  for (int i = 0; i < g.readings; ++i) {
    const lanes pull = g.weight[i] * g.current[i];
    total += pull * g.current[i];
    s += pull * at.shape[i];
    t += g.weight[i] * at.shape[i] * at.shape[i];
  }
  const lanes level = s / t;
  for (int i = 0; i < g.readings; ++i) {
    const lanes deviation = g.current[i] - level * at.shape[i];
    chi2 += g.weight[i] * deviation * deviation;
  }
  finish_parabola(g, at, level, chi2, out);
  out.certified = good & g.sound & (g.count > 2.5) & (chi2 <= one_minimum * total) & finite(out.parameter[0]) &
                  told(g, out.covariance[0]) & told(g, out.covariance[8]);
}

}  // namespace
}  // namespace rewound::fit
