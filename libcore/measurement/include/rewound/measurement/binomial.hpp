// SPDX-License-Identifier: MIT
#pragma once

#include <boost/math/distributions/binomial.hpp>

#include <rewound/base/expect.hpp>
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
  using distribution = boost::math::binomial_distribution<double, boost::math::policies::policy<boost::math::policies::promote_double<false>>>;
  const double tail = (1.0 - level) / 2.0;
  return {distribution::find_lower_bound_on_p(attempts, successes, tail),
          distribution::find_upper_bound_on_p(attempts, successes, tail)};
}

/// One-sided lower bound: the probability of success is at least this, at the stated confidence.
inline double success_at_least(int successes, int attempts, double confidence) {
  base::expect(attempts >= 1, "attempts", attempts, "a count of at least 1");
  base::expect(successes >= 0 && successes <= attempts, "successes", successes, "a count from 0 to attempts");
  base::expect(confidence > 0.0 && confidence < 1.0, "confidence", confidence, "a number between 0 and 1");
  using distribution = boost::math::binomial_distribution<double, boost::math::policies::policy<boost::math::policies::promote_double<false>>>;
  return distribution::find_lower_bound_on_p(attempts, successes, 1.0 - confidence);
}

}  // namespace rewound::measurement
