// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cmath>
#include <numbers>

#include <rewound/base/expect.hpp>
#include <rewound/measurement/normal.hpp>

namespace rewound::fit::detail {

/// The same number as measurement::coverage_factor(level) for known uncertainties, without Boost.Math, which was
/// measured to cost four seconds of compile time per translation unit.
///
/// Halley's iteration on the tail probability, which keeps its digits where 1 - tail has none left. From z = 0 it
/// climbs to the root for every tail: tail(z) / density(z) < 1 / z keeps its denominator above one half.
/// Source: W. H. Press et al., "Numerical Recipes", 3rd ed., section 6.2 (inverse error function).
inline double normal_coverage_factor(double level) {
  const double probability = 0.5 + level / 2.0;
  base::expect(probability > 0.0 && probability < 1.0, "probability", probability, "a number between 0 and 1");
  const double tail = std::min(probability, 1.0 - probability);
  const double root_two_pi = std::sqrt(2.0 * std::numbers::pi);
  double z = 0.0;
  constexpr int most_steps = 60;
  for (int step = 0; step < most_steps; ++step) {
    const double density = std::exp(-0.5 * z * z) / root_two_pi;
    const double newton = (measurement::normal_probability(-z) - tail) / density;
    const double change = newton / (1.0 - 0.5 * z * newton);
    z += change;
    if (std::abs(change) <= 1e-15 * std::abs(z)) break;
  }
  return probability < 0.5 ? -z : z;
}

}  // namespace rewound::fit::detail
