// SPDX-License-Identifier: MIT
#pragma once

#include <rewound/measurement/uncertain.hpp>

namespace rewound::measurement {

/// Exact (Clopper-Pearson) two-sided interval for the probability of success.
///
/// C. J. Clopper, E. S. Pearson, Biometrika 26 (1934) 404-413; computed with the beta quantiles of Boost.Math.
///
/// @param level  coverage, such as 0.95
/// @throws base::error (precondition) unless 0 <= successes <= attempts, attempts >= 1 and 0 < level < 1
interval<double> clopper_pearson(int successes, int attempts, double level);

/// One-sided lower bound: the probability of success is at least this, at the stated confidence.
double success_at_least(int successes, int attempts, double confidence);

/// Natural logarithm of the number of ways to choose some of many: ln of n! / (k! (n - k)!). Safe on several threads,
/// as the C library's lgamma, which sets a sign for all of them, is not.
///
/// @throws base::error (precondition) unless 0 <= chosen <= of
double log_ways(int of, int chosen);

/// Wilson's score interval for the probability of success: those probabilities from which the share seen is no further
/// off than the normal distribution allows.
///
/// E. B. Wilson, Journal of the American Statistical Association 22 (1927) 209-212 (from memory, recomputed).
///
/// @throws base::error (precondition) as clopper_pearson
interval<double> wilson(int successes, int attempts, double level);

/// Interval for the difference of two independent probabilities of success, the first less the second, from the score
/// intervals of both. Within -1 to 1, and of some width even where all or none succeeded.
///
/// R. G. Newcombe, Statistics in Medicine 17 (1998) 873-890, method 10 (from memory; coverage in
/// tests/unit/measurement/test_difference.cpp).
///
/// @throws base::error (precondition) as clopper_pearson
interval<double> difference_of_proportions(int first_successes, int first_attempts, int second_successes,
                                           int second_attempts, double level);

}  // namespace rewound::measurement

#ifndef REWOUND_COMPILED
#include <rewound/measurement/impl/binomial.hpp>
#endif
