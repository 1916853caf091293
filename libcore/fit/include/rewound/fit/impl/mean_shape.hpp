// SPDX-License-Identifier: MIT
#pragma once

#include <Eigen/Core>

#include <rewound/base/compiled.hpp>
#include <rewound/fit/dense.hpp>
#include <rewound/fit/impl/pooling.hpp>
#include <rewound/fit/mean_shape.hpp>
#include <rewound/fit/pooling.hpp>
#include <rewound/fit/population.hpp>

namespace rewound::fit {

REWOUND_INLINE unit_information parabola_of(const unit_information& whole, const mean_shape& shape) {
  const Eigen::Index rest = shape.coefficients.size();
  return {part(whole.precision, 0, 0, parabola_terms, parabola_terms),
          part(whole.weighted, 0, parabola_terms) -
              applied(part(whole.precision, 0, parabola_terms, parabola_terms, rest), shape.coefficients)};
}

REWOUND_INLINE Eigen::MatrixXd covariance_from_shape(const unit_information& whole, const mean_shape& shape,
                                                     const Eigen::MatrixXd& covariance) {
  const Eigen::MatrixXd by_shape = part(whole.precision, 0, parabola_terms, parabola_terms, shape.coefficients.size());
  return carried(product(covariance, by_shape), shape.covariance);
}

REWOUND_INLINE mean_shape curve_in_common(const std::vector<unit_information>& machines, const Eigen::MatrixXd& between,
                                          const Eigen::VectorXd& shape_prior) {
  auto equations = detail::equations_for(machines, detail::posteriors_of(machines, between), between.rows());
  constexpr double nothing_known = 1e-6;
  for (Eigen::Index i = 0; i < parabola_terms; ++i) equations.precision(i, i) += nothing_known;
  for (Eigen::Index i = 0; i < shape_prior.size(); ++i)
    equations.precision(parabola_terms + i, parabola_terms + i) += 1.0 / (shape_prior[i] * shape_prior[i]);
  const Eigen::MatrixXd covariance = symmetric_inverse(equations.precision);
  return {applied(covariance, equations.weighted), covariance};
}

REWOUND_INLINE mean_shape shape_of_curve(const mean_shape& whole) {
  const Eigen::Index rest = whole.coefficients.size() - parabola_terms;
  return {part(whole.coefficients, parabola_terms, rest),
          part(whole.covariance, parabola_terms, parabola_terms, rest, rest)};
}

}  // namespace rewound::fit
