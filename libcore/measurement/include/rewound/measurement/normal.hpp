// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>
#include <limits>

namespace rewound::measurement {

/// P(Z <= z) of the standard normal distribution.
inline double normal_probability(double z) { return 0.5 * std::erfc(-z / std::sqrt(2.0)); }

/// Half-width, in standard uncertainties, of the two-sided 95 % interval of a normal distribution: the 0.975
/// quantile (standard tables; tests/unit/measurement checks it against Boost.Math).
inline constexpr double coverage_95 = 1.9599639845400545;

/// Degrees of freedom of an uncertainty that is known from an accuracy statement (GUM G.4.2: may be taken as infinite).
inline constexpr double known_dof = std::numeric_limits<double>::infinity();

}  // namespace rewound::measurement
