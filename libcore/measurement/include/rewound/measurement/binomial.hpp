// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>

#include <boost/math/distributions/binomial.hpp>

#include <rewound/base/expect.hpp>
#include <rewound/measurement/distribution.hpp>
#include <rewound/measurement/uncertain.hpp>

namespace rewound::measurement {

/// Exact (Clopper-Pearson) two-sided interval for the probability of success.
///
/// C. J. Clopper, E. S. Pearson, Biometrika 26 (1934) 404-413; computed with the beta quantiles of Boost.Math.
///
/// @param level  coverage, such as 0.95
/// @throws base::error (precondition) unless 0 <= successes <= attempts, attempts >= 1 and 0 < level < 1
inline interval<double> clopper_pearson(int successes, int attempts, double level) {
  base::expect(attempts >= 1, "attempts", attempts, "a count of at least 1");
  base::expect(successes >= 0 && successes <= attempts, "successes", successes, "a count from 0 to attempts");
  base::expect(level > 0.0 && level < 1.0, "level", level, "a number between 0 and 1");
  using distribution =
      boost::math::binomial_distribution<double,
                                         boost::math::policies::policy<boost::math::policies::promote_double<false>>>;
  const double tail = (1.0 - level) / 2.0;
  return {distribution::find_lower_bound_on_p(attempts, successes, tail),
          distribution::find_upper_bound_on_p(attempts, successes, tail)};
}

/// One-sided lower bound: the probability of success is at least this, at the stated confidence.
inline double success_at_least(int successes, int attempts, double confidence) {
  base::expect(attempts >= 1, "attempts", attempts, "a count of at least 1");
  base::expect(successes >= 0 && successes <= attempts, "successes", successes, "a count from 0 to attempts");
  base::expect(confidence > 0.0 && confidence < 1.0, "confidence", confidence, "a number between 0 and 1");
  using distribution =
      boost::math::binomial_distribution<double,
                                         boost::math::policies::policy<boost::math::policies::promote_double<false>>>;
  return distribution::find_lower_bound_on_p(attempts, successes, 1.0 - confidence);
}

/// Wilson's score interval for the probability of success: those probabilities from which the share seen is no further
/// off than the normal distribution allows.
///
/// E. B. Wilson, Journal of the American Statistical Association 22 (1927) 209-212 (from memory, recomputed).
///
/// @throws base::error (precondition) as clopper_pearson
inline interval<double> wilson(int successes, int attempts, double level) {
  base::expect(attempts >= 1, "attempts", attempts, "a count of at least 1");
  base::expect(successes >= 0 && successes <= attempts, "successes", successes, "a count from 0 to attempts");
  base::expect(level > 0.0 && level < 1.0, "level", level, "a number between 0 and 1");
  const double n = attempts;
  const double z = coverage_factor(level);
  const double share = successes / n;
  const double middle = share + z * z / (2.0 * n);
  const double half = z * std::sqrt(share * (1.0 - share) / n + z * z / (4.0 * n * n));
  // The ends are exactly 0 and 1 where nothing, or everything, succeeded: rounding would leave a remainder.
  return {successes == 0 ? 0.0 : (middle - half) / (1.0 + z * z / n),
          successes == attempts ? 1.0 : (middle + half) / (1.0 + z * z / n)};
}

/// Interval for the difference of two independent probabilities of success, the first less the second, from the score
/// intervals of both. Within -1 to 1, and of some width even where all or none succeeded.
///
/// R. G. Newcombe, Statistics in Medicine 17 (1998) 873-890, method 10 (from memory; coverage in
/// tests/unit/measurement/test_difference.cpp).
///
/// @throws base::error (precondition) as clopper_pearson
inline interval<double> difference_of_proportions(int first_successes, int first_attempts, int second_successes,
                                                  int second_attempts, double level) {
  const auto first = wilson(first_successes, first_attempts, level);
  const auto second = wilson(second_successes, second_attempts, level);
  const double a = static_cast<double>(first_successes) / first_attempts;
  const double b = static_cast<double>(second_successes) / second_attempts;
  return {a - b - std::hypot(a - first.low, second.high - b), a - b + std::hypot(first.high - a, b - second.low)};
}

}  // namespace rewound::measurement
