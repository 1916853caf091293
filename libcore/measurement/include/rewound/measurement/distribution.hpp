// SPDX-License-Identifier: MIT
#pragma once

// The distributions of Boost.Math, which stay out of this header: they are slow to compile.

#include <rewound/measurement/normal.hpp>

namespace rewound::measurement {

/// z with P(Z <= z) = probability, 0 < probability < 1.
double normal_quantile(double probability);

/// Student's t quantile; infinite degrees of freedom give the normal quantile.
double student_quantile(double probability, double dof);

/// P(T <= t) of Student's distribution; infinite degrees of freedom give the normal distribution.
double student_probability(double t, double dof);

/// P(chi2 > value) with `dof` degrees of freedom: the p-value of a sum of squares.
double chi_squared_tail(double value, double dof);

/// P(F > value) with `numerator` and `denominator` degrees of freedom.
double fisher_tail(double value, double numerator, double denominator);

/// Half-width in standard uncertainties of a two-sided coverage interval (0.95 gives 1.96 for infinite dof).
inline double coverage_factor(double level, double dof = known_dof) { return student_quantile(0.5 + level / 2.0, dof); }

}  // namespace rewound::measurement

#ifndef REWOUND_COMPILED
#include <rewound/measurement/impl/distribution.hpp>
#endif
