// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>
#include <vector>

#include <rewound/base/compiled.hpp>
#include <rewound/base/expect.hpp>
#include <rewound/fit/detail/profile_search.hpp>
#include <rewound/fit/impl/fit_curve.hpp>
#include <rewound/fit/profile_intervals.hpp>
#include <rewound/measurement/distribution.hpp>

namespace rewound::fit {

namespace detail {

/// Shares of the readings in a fit that was robust, at its end.
inline Eigen::VectorXd final_shares(const curve_readings& in, const fitted_curve& curve, bool robust) {
  const Eigen::VectorXd ones = Eigen::VectorXd::Ones(in.x.size());
  if (!robust || curve.degrees_of_freedom == 0) return ones;
  const curve_problem unshared(in, curve.family, ones);
  const auto plain = search_curve(unshared);
  if (!plain.usable()) return ones;
  const Eigen::VectorXd sizes = unshared.residuals(plain.parameters).cwiseAbs();
  const double scale = 1.4826 * median({sizes.begin(), sizes.end()});
  return scale > 0.0 ? huber_shares(unshared.residuals(curve.parameters), scale) : ones;
}

}  // namespace detail

REWOUND_INLINE std::vector<parameter_interval> profile_intervals(const curve_readings& readings,
                                                                 const fitted_curve& curve, double level, bool robust,
                                                                 scatter counts) {
  base::expect(level > 0.0 && level < 1.0, "level", level, "a number between 0 and 1");
  const auto count = static_cast<std::size_t>(parameter_count(curve.family));
  std::vector<parameter_interval> out(count, {detail::not_a_number, detail::not_a_number});
  if (!curve.usable() || curve.interval_degrees <= 0.0) return out;
  const double scale = detail::variance_scale(curve, counts);
  if (std::isnan(scale) || curve.covariance.hasNaN()) return out;
  const double quantile = measurement::coverage_factor(level, curve.interval_degrees);
  const detail::curve_problem problem(readings, curve.family, detail::final_shares(readings, curve, robust));
  for (std::size_t j = 0; j < count; ++j) {
    const auto held = static_cast<Eigen::Index>(j);
    out[j] = {curve.parameters[held], curve.parameters[held]};
    if (scale == 0.0) continue;
    detail::profile_search search(problem, curve.parameters, curve.covariance, held, scale);
    out[j] = {search.end(quantile, -1.0), search.end(quantile, 1.0)};
  }
  return out;
}

}  // namespace rewound::fit
