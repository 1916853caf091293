// SPDX-License-Identifier: MIT
#pragma once

#include <Eigen/Core>

#include <rewound/base/compiled.hpp>
#include <rewound/fit/impl/pooling.hpp>
#include <rewound/fit/mean_shape.hpp>
#include <rewound/fit/pooling.hpp>
#include <rewound/fit/population.hpp>

namespace rewound::fit {

REWOUND_INLINE unit_information parabola_of(const unit_information& whole, const mean_shape& shape) {
  const Eigen::Index rest = shape.coefficients.size();
  return {
      whole.precision.topLeftCorner(parabola_terms, parabola_terms),
      whole.weighted.head(parabola_terms) - whole.precision.topRightCorner(parabola_terms, rest) * shape.coefficients};
}

REWOUND_INLINE Eigen::MatrixXd covariance_from_shape(const unit_information& whole, const mean_shape& shape,
                                                     const Eigen::MatrixXd& covariance) {
  const Eigen::MatrixXd carried =
      covariance * whole.precision.topRightCorner(parabola_terms, shape.coefficients.size());
  return carried * shape.covariance * carried.transpose();
}

REWOUND_INLINE mean_shape curve_in_common(const std::vector<unit_information>& machines, const Eigen::MatrixXd& between,
                                          const Eigen::VectorXd& shape_prior) {
  auto equations = detail::equations_for(machines, detail::posteriors_of(machines, between), between.rows());
  const Eigen::Index rest = shape_prior.size();
  constexpr double nothing_known = 1e-6;
  equations.precision.diagonal().head(parabola_terms).array() += nothing_known;
  equations.precision.diagonal().tail(rest) += shape_prior.array().square().inverse().matrix();
  const Eigen::MatrixXd covariance = symmetric_inverse(equations.precision);
  return {covariance * equations.weighted, covariance};
}

REWOUND_INLINE mean_shape shape_of_curve(const mean_shape& whole) {
  const Eigen::Index rest = whole.coefficients.size() - parabola_terms;
  return {whole.coefficients.tail(rest), whole.covariance.bottomRightCorner(rest, rest)};
}

}  // namespace rewound::fit
