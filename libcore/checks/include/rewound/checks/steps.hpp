// SPDX-License-Identifier: MIT
#pragma once

#include <cstddef>
#include <string>
#include <vector>

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

/// A permutation that turns the whole order round is a reversal; every other one is called a swap, and best_order says
/// which. With two speeds the two are the same thing, called a swap.
step_flag order_flag(const std::vector<std::size_t>& order);

/// Judges whether the speeds draw in the order fastest first, all at one voltage.
///
/// The steps are differences of logarithms with normal errors; a violation is named only where it is certain.
/// Assumes that the faster speed should draw more: see machine/speed_control.hpp for when that holds.
steps_result steps(const steps_input& in);

}  // namespace rewound::checks

#ifndef REWOUND_COMPILED
#include <rewound/checks/impl/steps.hpp>
#endif
