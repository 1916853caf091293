// SPDX-License-Identifier: MIT
#pragma once

#include <vector>

#include <Eigen/Core>

#include <rewound/fit/least_squares.hpp>

#include "curve_problem.hpp"

namespace rewound::python {

/// Where each parameter may lie, bounds included.
struct parameter_box {
  Eigen::VectorXd low;
  Eigen::VectorXd high;
};

/// What a search ended with; parameters and chi2 are only set when the status is one of convergence.
struct search_result {
  fit::least_squares_status status = fit::least_squares_status::singular;
  Eigen::VectorXd parameters;
  double chi2 = 0.0;

  bool usable() const {
    return status == fit::least_squares_status::converged || status == fit::least_squares_status::converged_at_rounding;
  }
};

/// The tightest at which chi2 still has digits to steer by; a hundred-millionth of a standard error.
inline constexpr fit::least_squares_options tight_search{.offset_tolerance = 1e-8};

/// The s in [low, high] with the lowest s'Hs/2 + gradient's; H positive definite, low <= 0 <= high.
///
/// Source: primal active sets (J. Nocedal, S. J. Wright, Numerical Optimization, 2nd ed. (2006), 16.5).
Eigen::VectorXd minimise_in_box(const Eigen::MatrixXd& hessian, const Eigen::VectorXd& gradient,
                                const parameter_box& box);

/// The lowest minimum inside the box that Levenberg-Marquardt steps reach from any of the starts. Parameters that
/// stop at a bound stand exactly on it. The end is settled by fit::fit_least_squares over the others.
search_result search_in_box(const curve_problem& problem, const std::vector<Eigen::VectorXd>& starts,
                            const parameter_box& box);

}  // namespace rewound::python
