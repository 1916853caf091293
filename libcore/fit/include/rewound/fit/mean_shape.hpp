// SPDX-License-Identifier: MIT
#pragma once

#include <Eigen/Core>

#include <rewound/fit/population.hpp>
#include <rewound/fit/pooling.hpp>

// Curves of one model share a shape that no parabola in logarithms follows, but differ from each other by parabolas
// (level, slope, curvature). So the shape is taken from all machines together, and only the parabola is compared.
namespace rewound::fit {

/// Coefficients that differ from machine to machine: level, slope, curvature.
inline constexpr Eigen::Index parabola_terms = 3;

/// What the mean curve of a population does beyond a parabola.
struct mean_shape {
  Eigen::VectorXd coefficients;
  Eigen::MatrixXd covariance;
};

/// Normal equations of the parabola alone, the shape being known.
inline unit_information parabola_of(const unit_information& whole, const mean_shape& shape) {
  const Eigen::Index rest = shape.coefficients.size();
  return {
      whole.precision.topLeftCorner(parabola_terms, parabola_terms),
      whole.weighted.head(parabola_terms) - whole.precision.topRightCorner(parabola_terms, rest) * shape.coefficients};
}

/// What the shape's uncertainty adds to the covariance of a parabola estimated from `whole`; `covariance` is the
/// parabola's own.
inline Eigen::MatrixXd covariance_from_shape(const unit_information& whole, const mean_shape& shape,
                                             const Eigen::MatrixXd& covariance) {
  const Eigen::MatrixXd carried =
      covariance * whole.precision.topRightCorner(parabola_terms, shape.coefficients.size());
  return carried * shape.covariance * carried.transpose();
}

/// The shape that the machines have in common.
///
/// @param machines          whole normal equations of one speed and channel, one a machine that read it
/// @param between           covariance between machines of all coefficients, shape included
/// @param shape_prior       standard deviations of the shape coefficients over all kinds of machine
/// Source: N. M. Laird, J. H. Ware, Biometrics 38 (1982) 963-974, with the covariance between units known.
inline mean_shape shape_in_common(const std::vector<unit_information>& machines, const Eigen::MatrixXd& between,
                                  const Eigen::VectorXd& shape_prior) {
  auto equations = detail::equations_for(machines, detail::posteriors_of(machines, between), between.rows());
  const Eigen::Index rest = shape_prior.size();
  constexpr double nothing_known = 1e-6;
  equations.precision.diagonal().head(parabola_terms).array() += nothing_known;
  equations.precision.diagonal().tail(rest) += shape_prior.array().square().inverse().matrix();
  const Eigen::MatrixXd covariance = symmetric_inverse(equations.precision);
  const Eigen::VectorXd mean = covariance * equations.weighted;
  return {mean.tail(rest), covariance.bottomRightCorner(rest, rest)};
}

}  // namespace rewound::fit
