// SPDX-License-Identifier: MIT
#pragma once

#include "error_curves.hpp"

// Levenberg-Marquardt steps within bounds, a curve a lane, as detail::box_descent takes them one by one.
namespace rewound::fit {
namespace {

constexpr double unbounded = 1e200;

template <std::size_t parameters>
struct lane_box {
  double low[parameters];
  double high[parameters];
};

/// The normal equations at a point.
template <std::size_t parameters>
struct normal_sums {
  lanes chi2;
  lanes slope[parameters];             ///< how chi2 falls with each parameter: minus half its derivative
  lanes gram[parameters][parameters];  ///< its lower half
};

template <class Problem>
normal_sums<Problem::parameters> sums_at(const error_group& g, const lanes* p) {
  constexpr std::size_t count = Problem::parameters;
  normal_sums<count> out{};
  for (int i = 0; i < g.readings; ++i) {
    const auto here = Problem::at(g, i, p);
    const lanes pull = here.weight * here.deviation;
    out.chi2 += pull * here.deviation;
    if constexpr (requires { here.excess; }) out.chi2 += here.excess;
    for (std::size_t j = 0; j < count; ++j) {
      out.slope[j] += pull * here.row[j];
      const lanes heavy = here.weight * here.row[j];
      for (std::size_t k = 0; k <= j; ++k) out.gram[j][k] += heavy * here.row[k];
    }
  }
  return out;
}

template <std::size_t parameters>
struct box_state {
  lanes p[parameters];
  normal_sums<parameters> sums;
  lanes scale[parameters];  ///< the largest square of each column so far
  lanes damping;
};

/// A symmetric matrix as L D L', the parameters held left out.
template <std::size_t parameters>
struct lane_factors {
  lanes lower[parameters][parameters];
  lanes inverse[parameters];  ///< of D
  flags sound;                ///< every pivot stands out of rounding
};

template <std::size_t parameters>
lane_factors<parameters> factors_of(const normal_sums<parameters>& sums, const lanes* damping, const flags* held,
                                    double least_pivot) {
  lane_factors<parameters> out;
  lanes pivot[parameters];
  out.sound = all_flags();
  for (std::size_t j = 0; j < parameters; ++j) {
    const lanes whole = sums.gram[j][j] + damping[j];
    lanes left = whole;
    for (std::size_t k = 0; k < j; ++k) {
      lanes cell = choose(held[j] | held[k], lanes{}, sums.gram[j][k]);
      for (std::size_t q = 0; q < k; ++q) cell -= out.lower[j][q] * out.lower[k][q] * pivot[q];
      out.lower[j][k] = cell * out.inverse[k];
      left -= out.lower[j][k] * cell;
    }
    out.sound &= held[j] | (left > least_pivot * whole);
    pivot[j] = choose(held[j], 1.0, left);
    out.inverse[j] = reciprocal(pivot[j]);
  }
  return out;
}

template <std::size_t parameters>
REWOUND_IN_LANES void solve_with(const lane_factors<parameters>& factors, lanes* values) {
  for (std::size_t j = 0; j < parameters; ++j)
    for (std::size_t k = 0; k < j; ++k) values[j] -= factors.lower[j][k] * values[k];
  for (std::size_t j = 0; j < parameters; ++j) values[j] *= factors.inverse[j];
  for (std::size_t j = parameters; j-- > 0;)
    for (std::size_t k = j + 1; k < parameters; ++k) values[j] -= factors.lower[k][j] * values[k];
}

/// The lower half of a symmetric matrix along a vector.
template <std::size_t parameters>
REWOUND_IN_LANES lanes along(const normal_sums<parameters>& sums, const lanes* by, std::size_t j) {
  lanes out{};
  for (std::size_t k = 0; k < parameters; ++k) out += (k <= j ? sums.gram[j][k] : sums.gram[k][j]) * by[k];
  return out;
}

/// The lowest point of the damped linear picture within the bounds: primal active sets, as detail::minimise_in_box.
template <std::size_t parameters>
struct lane_quadratic {
  const box_state<parameters>& at;
  const lane_box<parameters>& box;
  lanes damping[parameters];
  lanes by[parameters];    ///< the step so far
  flags held[parameters];  ///< at a bound, or without effect
  flags idle[parameters];  ///< without effect

  lane_quadratic(const box_state<parameters>& where, const lane_box<parameters>& bounds, lanes damped)
      : at(where), box(bounds) {
    for (std::size_t j = 0; j < parameters; ++j) {
      damping[j] = damped * at.scale[j];
      by[j] = lanes{};
      idle[j] = ~(at.sums.gram[j][j] > 0.0);
      held[j] = idle[j] | ((at.p[j] <= box.low[j]) & (at.sums.slope[j] <= 0.0)) |
                ((at.p[j] >= box.high[j]) & (at.sums.slope[j] >= 0.0));
    }
  }

  /// How the picture still falls with a parameter.
  REWOUND_IN_LANES lanes fall(std::size_t j) const {
    return at.sums.slope[j] - along(at.sums, by, j) - damping[j] * by[j];
  }

  /// To the lowest point with the parameters held, or to the first bound on the way there.
  REWOUND_IN_LANES flags go(flags moving) {
    constexpr double any_pivot = 1e-15;
    lanes more[parameters];
    for (std::size_t j = 0; j < parameters; ++j) more[j] = choose(held[j], lanes{}, fall(j));
    solve_with(factors_of(at.sums, damping, held, any_pivot), more);
    lanes share = 1.0, way[parameters];
    for (std::size_t j = 0; j < parameters; ++j) {
      const lanes from = at.p[j] + by[j];
      const lanes bound = choose(more[j] < 0.0, lanes(box.low[j]), lanes(box.high[j]));
      const flags over = ~held[j] & (size_of(more[j]) > size_of(bound - from));
      way[j] = choose(over, (bound - from) / more[j], 2.0);
      share = lesser(way[j], share);
    }
    flags free_way = all_flags();
    for (std::size_t j = 0; j < parameters; ++j) {
      const lanes bound = choose(more[j] < 0.0, lanes(box.low[j]), lanes(box.high[j]));
      const flags blocks = moving & free_way & (way[j] <= share) & (way[j] < 1.5);
      by[j] = choose(moving, by[j] + share * more[j], by[j]);
      by[j] = choose(blocks, bound - at.p[j], by[j]);
      held[j] |= blocks;
      free_way &= ~blocks;
    }
    return moving & ~free_way;
  }

  /// Lets the parameter go that gains most by leaving its bound; which curves had one.
  REWOUND_IN_LANES flags release(flags still) {
    lanes gain{};
    lanes inward[parameters];
    for (std::size_t j = 0; j < parameters; ++j) {
      inward[j] = lanes{};
      if (box.low[j] == box.high[j]) continue;
      const lanes q = fall(j) / root(greater(at.scale[j], 1e-300));
      const flags can = still & held[j] & ~idle[j];
      inward[j] = choose(can, choose(at.p[j] + by[j] <= box.low[j], q, -q), lanes{});
      gain = greater(inward[j], gain);
    }
    flags released{};
    for (std::size_t j = 0; j < parameters; ++j) {
      const flags here = ~released & (inward[j] > 0.0) & (inward[j] >= gain);
      held[j] &= ~here;
      released |= here;
    }
    return released;
  }

  REWOUND_IN_LANES void minimise() {
    constexpr int most_changes = 12;
    flags moving = all_flags();
    for (int change = 0; change < most_changes; ++change) {
      const flags blocked = go(moving);
      flags any_held{};
      for (std::size_t j = 0; j < parameters; ++j)
        if (box.low[j] < box.high[j]) any_held |= held[j] & ~idle[j];
      const flags still = moving & ~blocked & any_held;
      moving = blocked;
      if (any(still)) moving |= release(still);
      if (!any(moving)) return;
    }
  }
};

template <std::size_t parameters>
struct box_step {
  lanes to[parameters];
  lanes promised;  ///< by how much chi2 would fall were the residuals linear
};

template <std::size_t parameters>
box_step<parameters> step_in_box(const box_state<parameters>& at, const lane_box<parameters>& box, lanes damping) {
  lane_quadratic<parameters> picture(at, box, damping);
  picture.minimise();
  box_step<parameters> out;
  lanes move[parameters];
  for (std::size_t j = 0; j < parameters; ++j) {
    out.to[j] = greater(lesser(at.p[j] + picture.by[j], box.high[j]), box.low[j]);
    move[j] = out.to[j] - at.p[j];
  }
  out.promised = lanes{};
  for (std::size_t j = 0; j < parameters; ++j)
    out.promised += move[j] * (2.0 * at.sums.slope[j] - along(at.sums, move, j));
  return out;
}

template <std::size_t parameters>
REWOUND_IN_LANES void take_where(flags here, const box_state<parameters>& from, box_state<parameters>& to) {
  to.sums.chi2 = choose(here, from.sums.chi2, to.sums.chi2);
  to.damping = choose(here, from.damping, to.damping);
  for (std::size_t j = 0; j < parameters; ++j) {
    to.p[j] = choose(here, from.p[j], to.p[j]);
    to.scale[j] = choose(here, from.scale[j], to.scale[j]);
    to.sums.slope[j] = choose(here, from.sums.slope[j], to.sums.slope[j]);
    for (std::size_t k = 0; k <= j; ++k) to.sums.gram[j][k] = choose(here, from.sums.gram[j][k], to.sums.gram[j][k]);
  }
}

template <class Problem>
void start_at(const error_group& g, const lane_box<Problem::parameters>& box, box_state<Problem::parameters>& at) {
  for (std::size_t j = 0; j < Problem::parameters; ++j) at.p[j] = greater(lesser(at.p[j], box.high[j]), box.low[j]);
  at.sums = sums_at<Problem>(g, at.p);
  for (std::size_t j = 0; j < Problem::parameters; ++j) at.scale[j] = at.sums.gram[j][j];
  at.damping = 1e-3;
}

/// Promised by less than this share of chi2, a step is left to settle().
constexpr double small_promise = 1e-10;

/// A fall of chi2 below which the readings' own rounding is all that is left.
template <class Problem>
lanes rounding_of(const error_group& g) {
  lanes out{};
  for (int i = 0; i < g.readings; ++i) {
    if constexpr (Problem::weighted) out += g.share[i] * g.current[i] * g.current[i];
    else out += g.share[i] * (1.0 + g.log_current[i] * g.log_current[i]) / g.of_current[i];
  }
  return 1e-30 * out;
}

/// Damped steps until no curve has more to gain, or so many.
template <class Problem>
void descend(const error_group& g, const lane_box<Problem::parameters>& box, lanes rounding, int most_steps_now,
             box_state<Problem::parameters>& at) {
  constexpr std::size_t count = Problem::parameters;
  flags searching = all_flags();
  for (int step = 0; step < most_steps_now; ++step) {
    const auto next = step_in_box(at, box, at.damping);
    searching &= next.promised > small_promise * at.sums.chi2 + rounding;
    if (!any(searching)) return;
    box_state<count> there;
    for (std::size_t j = 0; j < count; ++j) there.p[j] = next.to[j];
    there.sums = sums_at<Problem>(g, there.p);
    const lanes fall = at.sums.chi2 - there.sums.chi2;
    const flags good = searching & (fall > 1e-4 * next.promised);
    there.damping = choose(fall > 0.5 * next.promised, greater(at.damping * 0.125, 1e-12), at.damping);
    for (std::size_t j = 0; j < count; ++j) there.scale[j] = greater(at.scale[j], there.sums.gram[j][j]);
    at.damping = choose(searching & ~good, 4.0 * at.damping, at.damping);
    take_where(good, there, at);
    searching &= at.damping < 1e12;
  }
}

/// Two undamped steps in succession tell how slowly the one direction converges that the residuals' curvature
/// slows down: the place where it will end. Source: D. G. Anderson, J. ACM 12 (1965) 547-560, of depth 1.
template <std::size_t parameters>
struct step_memory {
  lanes p[parameters];
  lanes by[parameters];
  flags known{};

  REWOUND_IN_LANES void extrapolate(const box_state<parameters>& at, const lane_box<parameters>& box, lanes* to) {
    constexpr double farthest = 100.0;
    lanes now[parameters];
    lanes product{}, square{};
    for (std::size_t j = 0; j < parameters; ++j) {
      now[j] = to[j] - at.p[j];
      const lanes change = choose(known, now[j] - by[j], lanes{});
      product += at.scale[j] * change * now[j];
      square += at.scale[j] * change * change;
    }
    const lanes back = choose(square > 0.0, product / square, lanes{});
    const lanes share = greater(lesser(back, farthest), -farthest);
    for (std::size_t j = 0; j < parameters; ++j) {
      const lanes change = choose(known, to[j] - (p[j] + by[j]), lanes{});
      p[j] = at.p[j];
      by[j] = now[j];
      to[j] = greater(lesser(to[j] - share * change, box.high[j]), box.low[j]);
    }
    known = all_flags();
  }
};

/// Undamped steps beside the minimum, where chi2 has no digits left to steer by. A curve has arrived when the step
/// counts no more, in standard errors of its parameters.
template <class Problem>
flags settle(const error_group& g, const lane_box<Problem::parameters>& box, lanes rounding,
             box_state<Problem::parameters>& at) {
  constexpr int most_settling = 25;
  constexpr double enough = 1e-19;
  flags searching = all_flags();
  flags arrived{};
  step_memory<Problem::parameters> memory;
  for (int step = 0; step < most_settling && any(searching); ++step) {
    auto next = step_in_box(at, box, lanes{});
    const flags small = next.promised <= enough * at.sums.chi2 + rounding;
    const flags sound = next.promised < 1e-5 * at.sums.chi2 + rounding;
    arrived |= searching & sound & small;
    searching &= sound;
    memory.extrapolate(at, box, next.to);
    box_state<Problem::parameters> there = at;
    for (std::size_t j = 0; j < Problem::parameters; ++j) there.p[j] = next.to[j];
    there.sums = sums_at<Problem>(g, there.p);
    take_where(searching, there, at);
    searching &= ~small;
  }
  return arrived;
}

/// Half of chi2's second derivatives by differences of its slopes, in place of the normal equations.
template <class Problem>
void take_curvature(const error_group& g, box_state<Problem::parameters>& at) {
  constexpr std::size_t count = Problem::parameters;
  constexpr double of_an_error = 3e-6;
  lanes curvature[count][count];
  for (std::size_t k = 0; k < count; ++k) {
    const lanes by = of_an_error / root(greater(at.scale[k], 1e-300));
    lanes moved[count];
    for (std::size_t j = 0; j < count; ++j) moved[j] = at.p[j];
    moved[k] += by;
    const lanes exactly = moved[k] - at.p[k];
    const auto there = sums_at<Problem>(g, moved);
    for (std::size_t j = 0; j < count; ++j) curvature[j][k] = (at.sums.slope[j] - there.slope[j]) / exactly;
  }
  for (std::size_t j = 0; j < count; ++j)
    for (std::size_t k = 0; k <= j; ++k) at.sums.gram[j][k] = 0.5 * (curvature[j][k] + curvature[k][j]);
}

/// Newton's steps, damped until chi2 falls: for curves along whose valley steps that leave out the residuals' own
/// curvature creep.
template <class Problem>
flags settle_in_valley(const error_group& g, const lane_box<Problem::parameters>& box, lanes rounding, flags wanted,
                       box_state<Problem::parameters>& at) {
  constexpr int most_settling = 60;
  constexpr double enough = 1e-17;
  constexpr double no_damping = 1e-6;
  constexpr double beyond_digits = 1e-10;
  flags searching = wanted;
  flags arrived{};
  at.damping = choose(wanted, no_damping, at.damping);
  for (int step = 0; step < most_settling && any(searching); ++step) {
    box_state<Problem::parameters> picture = at;
    take_curvature<Problem>(g, picture);
    const auto next = step_in_box(picture, box, at.damping);
    const flags falls = next.promised >= 0.0;
    const flags small = falls & (next.promised <= enough * at.sums.chi2 + rounding) & (at.damping <= no_damping);
    arrived |= searching & small;
    box_state<Problem::parameters> there = at;
    for (std::size_t j = 0; j < Problem::parameters; ++j) there.p[j] = next.to[j];
    there.sums = sums_at<Problem>(g, there.p);
    const lanes fall = at.sums.chi2 - there.sums.chi2;
    const flags lower = (fall > 1e-4 * next.promised) | (next.promised <= beyond_digits * at.sums.chi2 + rounding);
    const flags good = searching & falls & lower & finite(there.sums.chi2);
    for (std::size_t j = 0; j < Problem::parameters; ++j) there.scale[j] = greater(at.scale[j], there.sums.gram[j][j]);
    there.damping = greater(0.1 * at.damping, 1e-12);
    at.damping = choose(searching & ~good, 10.0 * at.damping, at.damping);
    take_where(good, there, at);
    searching &= ~small & (at.damping < 1e6);
  }
  return arrived;
}

/// The end of a search: which curves stand at their minimum. A step without damping that leads uphill is taken back.
template <class Problem>
flags settle_somehow(const error_group& g, const lane_box<Problem::parameters>& box, lanes rounding,
                     box_state<Problem::parameters>& at) {
  const box_state<Problem::parameters> before = at;
  const lanes highest = before.sums.chi2 * (1.0 + 1e-9) + rounding;
  flags good = settle<Problem>(g, box, rounding, at);
  good &= at.sums.chi2 <= highest;
  if (!any(~good)) return good;
  take_where(~good, before, at);
  good |= settle_in_valley<Problem>(g, box, rounding, ~good, at);
  return good & (at.sums.chi2 <= highest);
}

/// The inverse of the normal equations over the parameters not left out, which have zeros; false where it has too few
/// digits.
template <std::size_t parameters>
flags take_covariance(const normal_sums<parameters>& sums, const flags* left_out, double least_pivot,
                      lanes* covariance) {
  const lanes none[parameters] = {};
  const auto factors = factors_of(sums, none, left_out, least_pivot);
  for (std::size_t j = 0; j < parameters; ++j) {
    lanes unit[parameters] = {};
    unit[j] = 1.0;
    solve_with(factors, unit);
    for (std::size_t k = 0; k < parameters; ++k)
      covariance[j * parameters + k] = choose(left_out[j] | left_out[k], lanes{}, unit[k]);
  }
  for (std::size_t j = 0; j < parameters; ++j)
    for (std::size_t k = 0; k < j; ++k) covariance[k * parameters + j] = covariance[j * parameters + k];
  return factors.sound;
}

template <class Problem>
lanes mean_variance(const error_group& g, const lanes* p) {
  if constexpr (Problem::weighted) return 1.0;
  lanes out{};
  for (int i = 0; i < g.readings; ++i) out += choose(g.count > i, Problem::variance(g, i, p), lanes{});
  return out / g.count;
}

}  // namespace
}  // namespace rewound::fit
