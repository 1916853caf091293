// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>

#include <Eigen/Core>

#include <rewound/base/compiled.hpp>
#include <rewound/base/expect.hpp>
#include <rewound/checks/detail/summary_basis.hpp>
#include <rewound/checks/expected_current.hpp>
#include <rewound/fit/dense.hpp>
#include <rewound/fit/mean_shape.hpp>

namespace rewound::checks {

REWOUND_INLINE expected_current_result expected_current(const expected_current_input& in) {
  base::expect(in.x > 0.0 && std::isfinite(in.x), "x", in.x, "a finite number above 0");
  const Eigen::Index terms = fit::parabola_terms;
  const Eigen::VectorXd row = detail::basis(in.x);
  const auto value_of = [&](const Eigen::VectorXd& at) {
    double sum = 0.0;
    for (Eigen::Index i = 0; i < terms; ++i) sum += at[i] * in.population.mean[in.place + i];
    for (Eigen::Index i = 0; i < in.shape.coefficients.size(); ++i) sum += at[terms + i] * in.shape.coefficients[i];
    return sum;
  };
  expected_current_result out;
  out.log_value = value_of(row);
  constexpr double step = 0.02;  // in ln x: wider than the shape functions' straight pieces are narrow
  out.exponent =
      (value_of(detail::basis(in.x * std::exp(step))) - value_of(detail::basis(in.x * std::exp(-step)))) / (2.0 * step);
  double variance = 0.0;
  for (Eigen::Index i = 0; i < terms; ++i)
    for (Eigen::Index k = 0; k < terms; ++k) {
      const Eigen::Index p = in.place + i, q = in.place + k;
      variance += row[i] * row[k] * (in.population.between(p, q) + in.population.mean_covariance(p, q));
    }
  if (in.shape.coefficients.size() > 0) {
    const Eigen::VectorXd rest = fit::part(row, terms, row.size() - terms);
    variance += fit::dot(rest, fit::applied(in.shape.covariance, rest));
  }
  const double beyond = machine::shape_functions_at(std::log(in.x)).beyond_uncertainty;
  variance +=
      beyond * beyond + std::pow(in.ammeter_uncertainty, 2) + std::pow(out.exponent * in.voltmeter_uncertainty, 2);
  out.log_uncertainty = std::sqrt(variance);
  out.degrees_of_freedom = in.population.degrees_of_freedom;
  return out;
}

}  // namespace rewound::checks
