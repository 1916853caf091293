// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <numeric>
#include <string>
#include <vector>

#include <rewound/base/expect.hpp>
#include <rewound/measurement/normal.hpp>

namespace rewound::checks {

/// One speed's current at the voltage common to all speeds, as a logarithm, with the standard uncertainty that is
/// independent between speeds: one ammeter's gain error moves all speeds alike and drops out of every step.
struct speed_level {
  std::string speed;
  double log_current;
  double log_uncertainty;
};

struct steps_input {
  std::vector<speed_level> speeds;  ///< fastest first, at least two
  double merged_share;              ///< a step smaller than this share counts as no step, such as 0.025
  double certain;                   ///< probability from which a statement counts as certain, such as 0.95
};

enum class step_flag { in_order, swapped, reversed, merged, unclear };

/// One step from a speed to the next slower one.
struct speed_step {
  double log_ratio;  ///< ln of the faster speed's current over the slower one's
  double log_uncertainty;
  double in_order;  ///< probability that the faster speed draws more by at least the merged share
  double no_step;   ///< probability that the two differ by less than the merged share
  double inverted;  ///< probability that the slower speed draws more by at least the merged share
};

struct steps_result {
  step_flag flag;
  std::vector<speed_step> steps;
  std::vector<std::size_t> best_order;  ///< places of the speeds sorted by falling current
  double certainty;                     ///< probability of the flag: of all steps in order, or of the worst step
};

namespace detail {

inline speed_step step_between(const speed_level& fast, const speed_level& slow, double share) {
  const double difference = fast.log_current - slow.log_current;
  const double u = std::max(std::hypot(fast.log_uncertainty, slow.log_uncertainty), 1e-9);
  const double margin = std::log1p(share);
  const double in_order = 1.0 - measurement::normal_probability((margin - difference) / u);
  const double inverted = measurement::normal_probability((-margin - difference) / u);
  return {difference, u, in_order, std::max(0.0, 1.0 - in_order - inverted), inverted};
}

}  // namespace detail

/// A permutation that turns the whole order round is a reversal; every other one is called a swap, and best_order says
/// which. With two speeds the two are the same thing, called a swap.
inline step_flag order_flag(const std::vector<std::size_t>& order) {
  const std::size_t n = order.size();
  bool reversed = n > 2;
  for (std::size_t i = 0; i < n; ++i) reversed = reversed && order[i] == n - 1 - i;
  return reversed ? step_flag::reversed : step_flag::swapped;
}

/// Judges whether the speeds draw in the order fastest first, all at one voltage.
///
/// The steps are differences of logarithms with normal errors; a violation is named only where it is certain.
/// Assumes that the faster speed should draw more: see machine/speed_control.hpp for when that holds.
inline steps_result steps(const steps_input& in) {
  base::expect(in.speeds.size() >= 2, "speeds", static_cast<double>(in.speeds.size()), "two speeds or more");
  steps_result out{step_flag::unclear, {}, std::vector<std::size_t>(in.speeds.size()), 1.0};
  double worst_inverted = 0.0;
  double worst_merged = 0.0;
  for (std::size_t i = 0; i + 1 < in.speeds.size(); ++i) {
    out.steps.push_back(detail::step_between(in.speeds[i], in.speeds[i + 1], in.merged_share));
    out.certainty *= out.steps.back().in_order;
    worst_inverted = std::max(worst_inverted, out.steps.back().inverted);
    worst_merged = std::max(worst_merged, out.steps.back().no_step);
  }
  std::iota(out.best_order.begin(), out.best_order.end(), std::size_t{0});
  std::stable_sort(out.best_order.begin(), out.best_order.end(),
                   [&](std::size_t a, std::size_t b) { return in.speeds[a].log_current > in.speeds[b].log_current; });
  if (worst_inverted >= in.certain) {
    out.flag = order_flag(out.best_order);
    out.certainty = worst_inverted;
  } else if (worst_merged >= in.certain) {
    out.flag = step_flag::merged;
    out.certainty = worst_merged;
  } else if (out.certainty >= in.certain) {
    out.flag = step_flag::in_order;
  }
  return out;
}

}  // namespace rewound::checks
