// SPDX-License-Identifier: MIT
#pragma once

// Curves of one model share a shape that no parabola in logarithms follows, but differ from each other by parabolas
// (level, slope, curvature). So the shape is taken from all machines together, and only the parabola is compared.

#include <Eigen/Core>

#include <rewound/fit/population.hpp>

namespace rewound::fit {

/// Coefficients that differ from machine to machine: level, slope, curvature.
inline constexpr Eigen::Index parabola_terms = 3;

/// What the mean curve of a population does, beyond a parabola or all in all.
struct mean_shape {
  Eigen::VectorXd coefficients;
  Eigen::MatrixXd covariance;
};

/// Normal equations of the parabola alone, the shape being known.
unit_information parabola_of(const unit_information& whole, const mean_shape& shape);

/// What the shape's uncertainty adds to the covariance of a parabola estimated from `whole`; `covariance` is the
/// parabola's own.
Eigen::MatrixXd covariance_from_shape(const unit_information& whole, const mean_shape& shape,
                                      const Eigen::MatrixXd& covariance);

/// The whole curve that the machines have in common, parabola and shape.
///
/// @param machines          whole normal equations of one speed and channel, one a machine that read it
/// @param between           covariance between machines of all coefficients, shape included
/// @param shape_prior       standard deviations of the shape coefficients over all kinds of machine
/// Source: N. M. Laird, J. H. Ware, Biometrics 38 (1982) 963-974, with the covariance between units known.
mean_shape curve_in_common(const std::vector<unit_information>& machines, const Eigen::MatrixXd& between,
                           const Eigen::VectorXd& shape_prior);

/// What such a curve does beyond its parabola.
mean_shape shape_of_curve(const mean_shape& whole);

}  // namespace rewound::fit

#ifndef REWOUND_COMPILED
#include <rewound/fit/impl/mean_shape.hpp>
#endif
