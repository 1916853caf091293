// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>

#include <boost/math/distributions/binomial.hpp>
#include <boost/math/special_functions/gamma.hpp>

#include <rewound/base/compiled.hpp>
#include <rewound/base/expect.hpp>
#include <rewound/measurement/binomial.hpp>
#include <rewound/measurement/distribution.hpp>
#include <rewound/measurement/uncertain.hpp>

namespace rewound::measurement {

REWOUND_INLINE interval<double> clopper_pearson(int successes, int attempts, double level) {
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

REWOUND_INLINE double success_at_least(int successes, int attempts, double confidence) {
  base::expect(attempts >= 1, "attempts", attempts, "a count of at least 1");
  base::expect(successes >= 0 && successes <= attempts, "successes", successes, "a count from 0 to attempts");
  base::expect(confidence > 0.0 && confidence < 1.0, "confidence", confidence, "a number between 0 and 1");
  using distribution =
      boost::math::binomial_distribution<double,
                                         boost::math::policies::policy<boost::math::policies::promote_double<false>>>;
  return distribution::find_lower_bound_on_p(attempts, successes, 1.0 - confidence);
}

REWOUND_INLINE double log_ways(int of, int chosen) {
  base::expect(chosen >= 0 && chosen <= of, "chosen", chosen, "a count from 0 to all");
  const auto log_factorial = [](int n) {
    return boost::math::lgamma(n + 1.0, boost::math::policies::policy<boost::math::policies::promote_double<false>>());
  };
  return log_factorial(of) - log_factorial(chosen) - log_factorial(of - chosen);
}

REWOUND_INLINE interval<double> wilson(int successes, int attempts, double level) {
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

REWOUND_INLINE interval<double> difference_of_proportions(int first_successes, int first_attempts, int second_successes,
                                                          int second_attempts, double level) {
  const auto first = wilson(first_successes, first_attempts, level);
  const auto second = wilson(second_successes, second_attempts, level);
  const double a = static_cast<double>(first_successes) / first_attempts;
  const double b = static_cast<double>(second_successes) / second_attempts;
  return {a - b - std::hypot(a - first.low, second.high - b), a - b + std::hypot(first.high - a, b - second.low)};
}

}  // namespace rewound::measurement
