// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>

#include <Eigen/Core>

#include <rewound/base/compiled.hpp>
#include <rewound/base/expect.hpp>
#include <rewound/checks/detail/summary_basis.hpp>
#include <rewound/checks/expected_current.hpp>
#include <rewound/fit/mean_shape.hpp>

namespace rewound::checks {

REWOUND_INLINE expected_current_result expected_current(const expected_current_input& in) {
  base::expect(in.x > 0.0 && std::isfinite(in.x), "x", in.x, "a finite number above 0");
  const Eigen::Index terms = fit::parabola_terms;
  const Eigen::VectorXd row = detail::basis(in.x);
  const Eigen::VectorXd mean = in.population.mean.segment(in.place, terms);
  const auto value_of = [&](const Eigen::VectorXd& at) {
    double sum = at.head(terms).dot(mean);
    if (in.shape.coefficients.size() > 0) sum += at.tail(at.size() - terms).dot(in.shape.coefficients);
    return sum;
  };
  expected_current_result out;
  out.log_value = value_of(row);
  constexpr double step = 0.02;  // in ln x: wider than the shape functions' straight pieces are narrow
  out.exponent =
      (value_of(detail::basis(in.x * std::exp(step))) - value_of(detail::basis(in.x * std::exp(-step)))) / (2.0 * step);
  const Eigen::MatrixXd spread = in.population.between.block(in.place, in.place, terms, terms) +
                                 in.population.mean_covariance.block(in.place, in.place, terms, terms);
  double variance = row.head(terms).dot(spread * row.head(terms));
  if (in.shape.coefficients.size() > 0) {
    const Eigen::VectorXd rest = row.tail(row.size() - terms);
    variance += rest.dot(in.shape.covariance * rest);
  }
  const double beyond = machine::shape_functions_at(std::log(in.x)).beyond_uncertainty;
  variance +=
      beyond * beyond + std::pow(in.ammeter_uncertainty, 2) + std::pow(out.exponent * in.voltmeter_uncertainty, 2);
  out.log_uncertainty = std::sqrt(variance);
  out.degrees_of_freedom = in.population.degrees_of_freedom;
  return out;
}

}  // namespace rewound::checks
