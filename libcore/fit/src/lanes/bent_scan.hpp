// SPDX-License-Identifier: MIT
#pragma once

#include "bent_problem.hpp"

namespace rewound::fit {
namespace {

constexpr int most_minima = 3;

/// Where chi2 changes from falling to rising; at an end of the range both bounds are that end.
struct minima {
  lanes count;
  lanes low[most_minima];
  lanes high[most_minima];
  lanes start[most_minima];
};

REWOUND_IN_LANES void note(minima& to, flags here, lanes low, lanes high, lanes start) {
  for (int k = 0; k < most_minima; ++k) {
    const flags place = here & (to.count == k);
    to.low[k] = choose(place, low, to.low[k]);
    to.high[k] = choose(place, high, to.high[k]);
    to.start[k] = choose(place, start, to.start[k]);
  }
  to.count += choose(here, 1.0, lanes{});
}

/// A scan of m in steps that double: so many of the first length, of twice that, and so on; together 10.8. Powers turn
/// by about the same angle in each step, since x^m hangs on a narrower range of x the higher m is.
constexpr double first_scan_step = 0.05;
constexpr int scan_steps[] = {16, 20, 20, 10};

template <class Group>
REWOUND_IN_LANES minima scan(const Group& g, const bent_problem& of) {
  lanes power[most];
  lanes factor[most];
  for (int i = 0; i < g.readings; ++i) {
    power[i] = quick_exponential(lowest_power * of.t[i]);
    factor[i] = quick_exponential(first_scan_step * of.t[i]);
  }
  minima out{};
  double m = lowest_power;
  double step = first_scan_step;
  lanes before = fall_at(g, of, power);
  note(out, before <= 0.0, lanes(m), lanes(m), lanes(m));
  for (const int steps : scan_steps) {
    for (int k = 0; k < steps; ++k) {
      for (int i = 0; i < g.readings; ++i) power[i] *= factor[i];
      const lanes here = fall_at(g, of, power);
      const flags passed = (before > 0.0) & (here <= 0.0);
      if (any(passed)) note(out, passed, lanes(m), lanes(m + step), m + step * before / (before - here));
      before = here;
      m += step;
    }
    step *= 2.0;
    for (int i = 0; i < g.readings; ++i) factor[i] *= factor[i];
  }
  const lanes end = lanes(highest_power);
  note(out, before > 0.0, end, end, end);
  return out;
}

struct bounded_power {
  lanes m;
  lanes explained;  ///< as in bent_step
  flags good;
};

/// Steps between bounds that close in; where one leads outside, the middle.
template <class Group>
REWOUND_IN_LANES bounded_power refine(const Group& g, const bent_problem& of, lanes low, lanes high, lanes m) {
  constexpr double enough = 1e-6;  // the error left is about its third power
  constexpr int most_refinements = 40;
  flags searching = low < high;
  lanes explained{};
  lanes power[most];
  for (int k = 0; k < most_refinements; ++k) {
    take_bent_powers(g, of, m, power);
    const auto at = step_of_bent(sums_of_bent(g, of, power), of);
    explained = at.explained;
    if (!any(searching)) break;
    low = choose(searching & (at.slope > 0.0), m, low);
    high = choose(searching & (at.slope <= 0.0), m, high);
    const lanes next = m + at.by;
    const flags inside = at.towards_top & (next >= low) & (next <= high);
    const lanes to = choose(inside, next, 0.5 * (low + high));
    const lanes by = size_of(to - m);
    m = choose(searching, to, m);
    searching &= by > enough;
    if (!any(searching)) break;
  }
  return {m, explained, ~searching};
}

}  // namespace
}  // namespace rewound::fit
