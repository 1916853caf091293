// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>

#include <boost/math/distributions/chi_squared.hpp>
#include <boost/math/distributions/fisher_f.hpp>
#include <boost/math/distributions/normal.hpp>
#include <boost/math/distributions/students_t.hpp>

#include <rewound/base/compiled.hpp>
#include <rewound/base/expect.hpp>
#include <rewound/measurement/distribution.hpp>
#include <rewound/measurement/normal.hpp>

namespace rewound::measurement {

namespace detail {

/// Double precision throughout: a quantile is wanted to a dozen digits, not to eighteen.
using quantile_policy = boost::math::policies::policy<boost::math::policies::promote_double<false>>;

}  // namespace detail

REWOUND_INLINE double normal_quantile(double probability) {
  base::expect(probability > 0.0 && probability < 1.0, "probability", probability, "a number between 0 and 1");
  return boost::math::quantile(boost::math::normal_distribution<double, detail::quantile_policy>(), probability);
}

REWOUND_INLINE double student_quantile(double probability, double dof) {
  base::expect(probability > 0.0 && probability < 1.0, "probability", probability, "a number between 0 and 1");
  base::expect(dof > 0.0, "dof", dof, "a number above 0");
  if (std::isinf(dof)) return normal_quantile(probability);
  return boost::math::quantile(boost::math::students_t_distribution<double, detail::quantile_policy>(dof), probability);
}

REWOUND_INLINE double student_probability(double t, double dof) {
  base::expect(dof > 0.0, "dof", dof, "a number above 0");
  if (std::isinf(dof)) return normal_probability(t);
  return boost::math::cdf(boost::math::students_t_distribution<double, detail::quantile_policy>(dof), t);
}

REWOUND_INLINE double chi_squared_tail(double value, double dof) {
  base::expect(dof > 0.0, "dof", dof, "a number above 0");
  base::expect(value >= 0.0, "value", value, "a number not below 0");
  return boost::math::cdf(
      boost::math::complement(boost::math::chi_squared_distribution<double, detail::quantile_policy>(dof), value));
}

REWOUND_INLINE double fisher_tail(double value, double numerator, double denominator) {
  base::expect(value >= 0.0, "value", value, "a number not below 0");
  const boost::math::fisher_f_distribution<double, detail::quantile_policy> f(numerator, denominator);
  return boost::math::cdf(boost::math::complement(f, value));
}

}  // namespace rewound::measurement
