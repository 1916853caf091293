// SPDX-License-Identifier: MIT
#pragma once

// The distributions of Boost.Math; slow to compile, so kept apart from normal.hpp.

#include <cmath>

#include <boost/math/distributions/chi_squared.hpp>
#include <boost/math/distributions/normal.hpp>
#include <boost/math/distributions/students_t.hpp>

#include <rewound/base/expect.hpp>
#include <rewound/measurement/normal.hpp>

namespace rewound::measurement {

namespace detail {

/// Double precision throughout: a quantile is wanted to a dozen digits, not to eighteen.
using quantile_policy = boost::math::policies::policy<boost::math::policies::promote_double<false>>;

}  // namespace detail

/// z with P(Z <= z) = probability, 0 < probability < 1.
inline double normal_quantile(double probability) {
  base::expect(probability > 0.0 && probability < 1.0, "probability", probability, "a number between 0 and 1");
  return boost::math::quantile(boost::math::normal_distribution<double, detail::quantile_policy>(), probability);
}

/// Student's t quantile; infinite degrees of freedom give the normal quantile.
inline double student_quantile(double probability, double dof) {
  base::expect(probability > 0.0 && probability < 1.0, "probability", probability, "a number between 0 and 1");
  base::expect(dof > 0.0, "dof", dof, "a number above 0");
  if (std::isinf(dof)) return normal_quantile(probability);
  return boost::math::quantile(boost::math::students_t_distribution<double, detail::quantile_policy>(dof), probability);
}

/// P(T <= t) of Student's distribution; infinite degrees of freedom give the normal distribution.
inline double student_probability(double t, double dof) {
  base::expect(dof > 0.0, "dof", dof, "a number above 0");
  if (std::isinf(dof)) return normal_probability(t);
  return boost::math::cdf(boost::math::students_t_distribution<double, detail::quantile_policy>(dof), t);
}

/// P(chi2 > value) with `dof` degrees of freedom: the p-value of a sum of squares.
inline double chi_squared_tail(double value, double dof) {
  base::expect(dof > 0.0, "dof", dof, "a number above 0");
  base::expect(value >= 0.0, "value", value, "a number not below 0");
  return boost::math::cdf(
      boost::math::complement(boost::math::chi_squared_distribution<double, detail::quantile_policy>(dof), value));
}

/// Half-width in standard uncertainties of a two-sided coverage interval (0.95 gives 1.96 for infinite dof).
inline double coverage_factor(double level, double dof = known_dof) { return student_quantile(0.5 + level / 2.0, dof); }

}  // namespace rewound::measurement
