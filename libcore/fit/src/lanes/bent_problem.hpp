// SPDX-License-Identifier: MIT
#pragma once

#include "group.hpp"

namespace rewound::fit {
namespace {

constexpr double lowest_power = 1.2;
constexpr double highest_power = 12.0;

/// A magnetising curve's sum of squares over m alone. With t = ln x - ln x_max no power overflows; what the line
/// through 0 explains is taken off the currents beforehand.
struct bent_problem {
  lanes top;          ///< ln x_max
  lanes inverse_top;  ///< 1 / x_max
  lanes t[most];
  lanes line[most];  ///< x / x_max
  lanes w_line[most];
  lanes across[most];  ///< current less its part along the line
  lanes w_across[most];
  lanes along;     ///< current along the line
  lanes per_line;  ///< 1 / sum of w line^2
  lanes total;     ///< sum of w I^2
  lanes left;      ///< sum of w across^2
  lanes spread;    ///< largest -t
};

template <class Group>
REWOUND_IN_LANES void take_problem(const Group& g, bent_problem& to) {
  lanes top = lanes(-1e3);
  lanes top_x{};
  for (int i = 0; i < g.readings; ++i) {
    top = greater(top, g.z[i]);
    top_x = greater(top_x, g.x[i]);
  }
  to.top = top;
  to.inverse_top = reciprocal(top_x);
  lanes squares{}, product{};
  to.total = to.left = to.spread = lanes{};
  for (int i = 0; i < g.readings; ++i) {
    to.t[i] = g.z[i] - top;
    to.spread = greater(to.spread, -to.t[i]);
    to.line[i] = g.x[i] * to.inverse_top;
    to.w_line[i] = g.weight[i] * to.line[i];
    squares += to.w_line[i] * to.line[i];
    product += to.w_line[i] * g.current[i];
    to.total += g.weight[i] * g.current[i] * g.current[i];
  }
  to.per_line = reciprocal(squares);
  to.along = product * to.per_line;
  for (int i = 0; i < g.readings; ++i) {
    to.across[i] = g.current[i] - to.along * to.line[i];
    to.w_across[i] = g.weight[i] * to.across[i];
    to.left += to.w_across[i] * to.across[i];
  }
}

/// How chi2 falls with m, with the best a and b: minus half its derivative.
template <class Group>
REWOUND_IN_LANES lanes fall_at(const Group& g, const bent_problem& of, const lanes* power) {
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
  const lanes inverse = reciprocal(e - u * u * of.per_line);
  const lanes level = n * inverse;
  return level * (n1 - level * (e1 - u * u1 * of.per_line));
}

/// Sums of x^m with the currents, with the line and with itself, and with powers of t.
struct bent_sums {
  lanes n, n1, n2, n3;
  lanes u, u1, u2, u3;
  lanes e, e1, e2, e3;
};

template <class Group>
REWOUND_IN_LANES bent_sums sums_of_bent(const Group& g, const bent_problem& of, const lanes* power) {
  bent_sums out{};
  for (int i = 0; i < g.readings; ++i) {
    const lanes t = of.t[i];
    const lanes p = power[i];
    const lanes pt = p * t;
    const lanes ptt = pt * t;
    const lanes pttt = ptt * t;
    const lanes wp = g.weight[i] * p;
    out.n += of.w_across[i] * p;
    out.n1 += of.w_across[i] * pt;
    out.n2 += of.w_across[i] * ptt;
    out.n3 += of.w_across[i] * pttt;
    out.u += of.w_line[i] * p;
    out.u1 += of.w_line[i] * pt;
    out.u2 += of.w_line[i] * ptt;
    out.u3 += of.w_line[i] * pttt;
    out.e += wp * p;
    out.e1 += wp * pt;
    out.e2 += wp * ptt;
    out.e3 += wp * pttt;
  }
  return out;
}

/// A step of m towards the top of ln N^2 - ln D, where N is the bent part along the currents and D its own square.
struct bent_step {
  lanes slope;
  lanes by;           ///< Halley's step
  lanes explained;    ///< N^2 / D, by which b lowers chi2
  flags towards_top;  ///< the function bends down here
};

REWOUND_IN_LANES bent_step step_of_bent(const bent_sums& sums, const bent_problem& of) {
  const auto& [n, n1, n2, n3, u, u1, u2, u3, e, e1, e2, e3] = sums;
  const lanes d = e - u * u * of.per_line;
  const lanes inverse = reciprocal(n * d);
  const lanes per_n = inverse * d;
  const lanes per_d = inverse * n;
  const lanes a1 = n1 * per_n;
  const lanes a2 = n2 * per_n;
  const lanes b1 = 2.0 * (e1 - u * u1 * of.per_line) * per_d;
  const lanes b2 = (4.0 * e2 - 2.0 * (u1 * u1 + u * u2) * of.per_line) * per_d;
  const lanes b3 = (8.0 * e3 - 2.0 * (3.0 * u1 * u2 + u * u3) * of.per_line) * per_d;
  const lanes slope = a1 - 0.5 * b1;
  const lanes of_n = a2 - a1 * a1;
  const lanes of_d = b2 - b1 * b1;
  const lanes bend = of_n - 0.5 * of_d;
  const lanes twist = (n3 * per_n - a1 * (3.0 * of_n + a1 * a1)) - 0.5 * (b3 - b1 * (3.0 * of_d + b1 * b1));
  const lanes per_bend = reciprocal(bend);
  const lanes newton = -slope * per_bend;
  return {slope, halley_step(newton, 0.5 * newton * twist * per_bend), n * n * per_d, bend < 0.0};
}

template <class Group>
REWOUND_IN_LANES void take_bent_powers(const Group& g, const bent_problem& of, lanes m, lanes* power) {
  for (int i = 0; i < g.readings; ++i) power[i] = quick_exponential(m * of.t[i]);
}

}  // namespace
}  // namespace rewound::fit
