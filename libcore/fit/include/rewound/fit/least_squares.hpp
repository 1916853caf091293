// SPDX-License-Identifier: MIT
#pragma once

#include <concepts>
#include <limits>
#include <span>
#include <string>
#include <string_view>

#include <Eigen/Core>

#include <rewound/base/expect.hpp>
#include <rewound/fit/detail/levenberg_marquardt.hpp>
#include <rewound/fit/detail/scaled_qr.hpp>
#include <rewound/fit/numeric_jacobian.hpp>

namespace rewound::fit {

/// How a nonlinear fit ended. Only the first two carry numbers.
enum class least_squares_status {
  converged,              ///< relative offset at or below the tolerance
  converged_at_rounding,  ///< chi2 cannot fall further in double precision and the point is stationary as far as
                          ///< rounding lets one see
  stalled,                ///< no step lowers chi2, yet the point is not stationary: usually a wrong Jacobian
  iteration_limit,        ///< the allowed number of trial steps is used up
  singular,               ///< the readings do not determine every parameter at the point reached
  too_few_points,         ///< fewer residuals than parameters
  not_finite              ///< start, residuals or Jacobian are not finite numbers
};

constexpr bool has_converged(least_squares_status status) {
  return status == least_squares_status::converged || status == least_squares_status::converged_at_rounding;
}

/// The stable name of a status, as printed.
constexpr std::string_view name(least_squares_status status) {
  switch (status) {
    case least_squares_status::converged: return "converged";
    case least_squares_status::converged_at_rounding: return "converged_at_rounding";
    case least_squares_status::stalled: return "stalled";
    case least_squares_status::iteration_limit: return "iteration_limit";
    case least_squares_status::singular: return "singular";
    case least_squares_status::too_few_points: return "too_few_points";
    case least_squares_status::not_finite: return "not_finite";
  }
  return "unknown";
}

struct least_squares_options {
  int iteration_limit = 2000;  ///< trial steps, accepted or not
  /// Largest distance to the stationary point, in standard errors, that counts as converged.
  /// Below 1e-8 chi2 itself has no digits left to steer by.
  double offset_tolerance = 1e-7;
  /// First trust radius as a multiple of the scaled start. MINPACK (ANL-80-74) allows 0.1 to 100 and proposes 100;
  /// on the NIST sets 100 throws the hard starts of BoxBOD and MGH10 onto a plateau and 1 does not.
  double initial_radius_factor = 1.0;
};

/// Outcome of a nonlinear least-squares fit.
///
/// Unless usable(), parameters, covariance_unscaled and chi2 are NaN; where the search stood is then only in
/// stopped_at, so that nobody reads it as a result by accident.
struct least_squares_result {
  least_squares_status status = least_squares_status::not_finite;
  Eigen::VectorXd parameters;
  /// (J^T J)^-1: the covariance when residuals are divided by their standard uncertainties; multiply by chi2/dof
  /// when only their relative size is known.
  Eigen::MatrixXd covariance_unscaled;
  double chi2 = std::numeric_limits<double>::quiet_NaN();      ///< sum of squared residuals
  Eigen::Index degrees_of_freedom = 0;                         ///< residuals minus parameters; may be 0
  int iterations = 0;                                          ///< trial steps used
  double condition = std::numeric_limits<double>::infinity();  ///< of J with columns of equal length
  double relative_offset = std::numeric_limits<double>::quiet_NaN();
  Eigen::VectorXd stopped_at;  ///< last point of the search, for diagnosis only

  bool usable() const { return has_converged(status); }
};

/// A callable that turns parameters into the Jacobian d r_i / d p_j.
template <class Jacobian>
concept jacobian_function = requires(const Jacobian& jacobian, const Eigen::VectorXd& parameters) {
  { jacobian(parameters) } -> std::convertible_to<Eigen::MatrixXd>;
};

namespace detail {

inline least_squares_result unusable_fit(least_squares_status status, const Eigen::VectorXd& stopped_at) {
  constexpr double nan = std::numeric_limits<double>::quiet_NaN();
  least_squares_result result;
  result.status = status;
  result.parameters = Eigen::VectorXd::Constant(stopped_at.size(), nan);
  result.covariance_unscaled = Eigen::MatrixXd::Constant(stopped_at.size(), stopped_at.size(), nan);
  result.stopped_at = stopped_at;
  return result;
}

inline least_squares_status judge(const levenberg_marquardt& search, search_end end, double offset_tolerance) {
  if (end == search_end::not_finite) return least_squares_status::not_finite;
  if (end == search_end::iteration_limit) return least_squares_status::iteration_limit;
  if (search.offset() <= offset_tolerance) return least_squares_status::converged;
  // 0.001 of a standard error is the limit Bates and Watts 1981 propose for practical convergence. A fit whose
  // residuals are themselves rounding noise has no meaningful standard error: there the step decides.
  constexpr double practical_offset = 1e-3;
  constexpr double negligible_step = 1e-8;
  if (search.offset() <= practical_offset || search.relative_newton_step() <= negligible_step) {
    return least_squares_status::converged_at_rounding;
  }
  return least_squares_status::stalled;
}

inline least_squares_result finished_fit(const levenberg_marquardt& search, search_end end,
                                         const least_squares_options& options) {
  least_squares_result result = unusable_fit(judge(search, end, options.offset_tolerance), search.parameters());
  result.iterations = search.iterations();
  if (result.status == least_squares_status::not_finite) return result;
  result.relative_offset = search.offset();
  const scaled_qr factors(search.jacobian());
  result.condition = factors.condition();
  // A search that runs off along a direction the readings do not see ends at the iteration limit or stalls;
  // the cause is worth more to the caller than the symptom.
  if (!factors.full_rank()) result.status = least_squares_status::singular;
  if (!result.usable()) return result;
  const Eigen::MatrixXd covariance = factors.inverse_gram();
  if (!covariance.allFinite()) {
    result.status = least_squares_status::singular;
    return result;
  }
  result.parameters = search.parameters();
  result.covariance_unscaled = covariance;
  result.chi2 = search.residuals().squaredNorm();
  result.degrees_of_freedom = search.residuals().size() - search.parameters().size();
  return result;
}

inline void expect_sound(const Eigen::VectorXd& start, const least_squares_options& options) {
  base::expect(start.size() > 0, "start", "no parameter", "at least one parameter");
  base::expect(options.iteration_limit > 0, "options.iteration_limit", std::to_string(options.iteration_limit),
               "a number above 0");
  base::expect(options.offset_tolerance > 0.0, "options.offset_tolerance", options.offset_tolerance,
               "a number above 0");
  base::expect(options.initial_radius_factor > 0.0, "options.initial_radius_factor", options.initial_radius_factor,
               "a number above 0");
}

/// fit_least_squares, compiled once for all callables.
inline least_squares_result fit_problem(const search_problem& problem, const Eigen::VectorXd& start,
                                        const least_squares_options& options) {
  expect_sound(start, options);
  if (!start.allFinite()) return unusable_fit(least_squares_status::not_finite, start);
  const Eigen::VectorXd first = problem.residuals(start);
  if (first.size() < start.size()) return unusable_fit(least_squares_status::too_few_points, start);
  if (!first.allFinite()) return unusable_fit(least_squares_status::not_finite, start);
  const Eigen::MatrixXd shape = problem.jacobian(start);
  base::expect(shape.rows() == first.size() && shape.cols() == start.size(), "jacobian",
               std::to_string(shape.rows()) + " by " + std::to_string(shape.cols()),
               "one row per residual and one column per parameter");
  const search_limits limits{options.iteration_limit, options.offset_tolerance, options.initial_radius_factor};
  levenberg_marquardt search(problem, start, first, shape, limits);
  const search_end end = search.run();
  return finished_fit(search, end, options);
}

}  // namespace detail

/// Nonlinear least squares: minimises the sum of squared residuals from one start.
///
/// Levenberg-Marquardt in a scaled trust region, on QR factors of the Jacobian. Finds a local minimum; see
/// fit_least_squares_from_many for models that have several. Residuals that are not finite away from the start
/// only shorten the step.
///
/// @param residuals  callable: parameters -> residual vector of constant length, each residual divided by its
///                   standard uncertainty (or all by the same unknown one)
/// @param jacobian   callable: parameters -> d residual_i / d parameter_j
/// @return a result whose status says whether it holds numbers
/// @throws base::error (precondition) on an empty start, an option out of range, or a Jacobian of wrong shape
/// Source: J. J. More 1978, Bates and Watts 1981 (full titles in detail/local_model.hpp).
template <residual_function Residuals, jacobian_function Jacobian>
least_squares_result fit_least_squares(const Residuals& residuals, const Jacobian& jacobian,
                                       const Eigen::VectorXd& start, const least_squares_options& options = {}) {
  return detail::fit_problem(detail::callable_problem<Residuals, Jacobian>(residuals, jacobian), start, options);
}

/// The same with a central-difference Jacobian, for models without derivatives.
template <residual_function Residuals>
least_squares_result fit_least_squares(const Residuals& residuals, const Eigen::VectorXd& start,
                                       const least_squares_options& options = {}) {
  const auto jacobian = [&residuals](const Eigen::VectorXd& parameters) {
    return numeric_jacobian(residuals, parameters);
  };
  return fit_least_squares(residuals, jacobian, start, options);
}

/// The best of several fits, and how many of them reached it.
struct best_fit {
  least_squares_result result;  ///< lowest chi2 among usable fits, or the first failure when none is usable
  int attempts = 0;             ///< fits tried
  int agreeing = 0;             ///< usable fits that reached the same chi2 to eight digits
};

/// Fits from every start with every first trust radius and keeps the usable fit with the lowest chi2.
///
/// For models with false minima or flat far fields, where one descent ends wherever its first long step threw
/// it: cautious first radii follow the slope, bold ones jump over ridges. This is a search and no proof:
/// `agreeing` says how often the best was met.
///
/// @param radius_factors  values for least_squares_options::initial_radius_factor
/// @throws base::error (precondition) when there is no start or no factor, and as fit_least_squares
template <residual_function Residuals, jacobian_function Jacobian>
best_fit fit_least_squares_from_many(const Residuals& residuals, const Jacobian& jacobian,
                                     std::span<const Eigen::VectorXd> starts, std::span<const double> radius_factors,
                                     const least_squares_options& options = {}) {
  base::expect(!starts.empty(), "starts", "none", "at least one start");
  base::expect(!radius_factors.empty(), "radius_factors", "none", "at least one factor");
  constexpr double same_chi2 = 1e-8;
  best_fit best;
  for (const Eigen::VectorXd& start : starts) {
    for (const double factor : radius_factors) {
      least_squares_options cautious = options;
      cautious.initial_radius_factor = factor;
      const least_squares_result result = fit_least_squares(residuals, jacobian, start, cautious);
      if (best.attempts++ == 0) best.result = result;
      if (!result.usable()) continue;
      const bool better = !best.result.usable() || result.chi2 < best.result.chi2 * (1.0 - same_chi2);
      if (better) best = {result, best.attempts, 0};
      if (result.chi2 <= best.result.chi2 * (1.0 + same_chi2)) ++best.agreeing;
    }
  }
  return best;
}

}  // namespace rewound::fit
