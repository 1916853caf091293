// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>
#include <limits>
#include <vector>

#include <Eigen/Core>

#include <rewound/fit/detail/box_search.hpp>
#include <rewound/fit/detail/curve_problem.hpp>
#include <rewound/fit/detail/magnetising_scan.hpp>
#include <rewound/fit/detail/power_bounds.hpp>
#include <rewound/fit/least_squares.hpp>
#include <rewound/fit/linear.hpp>

namespace rewound::fit::detail {

inline constexpr double no_bound = std::numeric_limits<double>::infinity();

/// The status a linear start's failure gives to the whole fit.
inline least_squares_status status_after(linear_status status) {
  switch (status) {
    case linear_status::solved: return least_squares_status::converged;
    case linear_status::singular: return least_squares_status::singular;
    case linear_status::too_few_points: return least_squares_status::too_few_points;
    case linear_status::not_finite: return least_squares_status::not_finite;
  }
  return least_squares_status::not_finite;
}

/// The curve in log coordinates, where its three simplest families are linear.
inline linear_result line_in_logs(const curve_problem& problem, curve_family family, const Eigen::VectorXd& weights) {
  const Eigen::VectorXd z = problem.readings().x.array().log();
  const Eigen::VectorXd log_current = problem.readings().current.array().log();
  if (family == curve_family::proportional)
    return fit_linear(Eigen::MatrixXd::Ones(z.size(), 1), log_current - z, weights);
  Eigen::MatrixXd design(z.size(), parameter_count(family));
  design.col(0).setOnes();
  for (Eigen::Index j = 1; j < design.cols(); ++j) design.col(j) = design.col(j - 1).cwiseProduct(z);
  return fit_linear(design, log_current, weights);
}

/// Weights with which small deviations of the logarithm count as in the sum itself.
inline Eigen::VectorXd log_weights(const curve_problem& problem) {
  const auto& in = problem.readings();
  if (in.weighted()) return problem.share().array() * in.weight.array() * in.current.array().square();
  return problem.share().array() / (in.relative_u_current.array().square() + in.relative_u_x.array().square());
}

inline Eigen::VectorXd natural_start(curve_family family, const Eigen::VectorXd& line) {
  Eigen::VectorXd start = line;
  if (family != curve_family::log_quadratic) start[0] = std::exp(start[0]);
  return start;
}

inline search_result as_search(const least_squares_result& found) {
  if (!found.usable()) return {found.status, {}, 0.0};
  return {found.status, found.parameters, found.chi2};
}

inline search_result descend_from(const curve_problem& problem, const std::vector<Eigen::VectorXd>& starts) {
  const auto residuals = [&](const Eigen::VectorXd& p) { return problem.residuals(p); };
  const auto jacobian = [&](const Eigen::VectorXd& p) { return problem.jacobian(p); };
  const double radius_factors[] = {1.0};
  return as_search(fit_least_squares_from_many(residuals, jacobian, starts, radius_factors, tight_search).result);
}

/// No machine has such an exponent (project's choice, no source): the search ran off where there is no minimum.
inline search_result unless_run_off(const curve_problem& problem, const search_result& found) {
  constexpr double highest_exponent = 1000.0;
  if (!found.usable()) return found;
  for (const double x : problem.readings().x) {
    const double exponent = evaluate(problem.family(), found.parameters, x).exponent;
    if (!(std::abs(exponent) <= highest_exponent)) return {least_squares_status::stalled, {}, 0.0};
  }
  return found;
}

inline search_result search_lines(const curve_problem& problem) {
  const auto family = problem.family();
  const auto near = line_in_logs(problem, family, log_weights(problem));
  if (!near.usable()) return {status_after(near.status), {}, 0.0};
  std::vector<Eigen::VectorXd> starts{natural_start(family, near.parameters)};
  // Without weights a steep curve excuses every deviation by the voltmeter's error, and the sum may fall for ever
  // towards exponents without end: only the minimum next to the parabola is a fit.
  if (!problem.readings().weighted()) return unless_run_off(problem, descend_from(problem, starts));
  if (family == curve_family::proportional) return descend_from(problem, starts);
  const auto even = line_in_logs(problem, family, Eigen::VectorXd::Ones(problem.readings().x.size()));
  if (even.usable()) starts.push_back(natural_start(family, even.parameters));
  if (family == curve_family::log_quadratic) {
    const auto straight = line_in_logs(problem, curve_family::power, log_weights(problem));
    starts.push_back(Eigen::Vector3d(straight.parameters[0], straight.parameters[1], 0.0));
  }
  return descend_from(problem, starts);
}

inline parameter_box box_of(const curve_problem& problem) {
  const Eigen::Index count = parameter_count(problem.family());
  parameter_box box{Eigen::VectorXd::Zero(count), Eigen::VectorXd::Constant(count, no_bound)};
  box.low[2] = problem.readings().weighted() ? lowest_weighted_power : lowest_power;
  box.high[2] = highest_power;
  return box;
}

/// a, b >= 0 of the curve a x + b x^m that comes nearest to `target`, relative to the currents.
inline Eigen::Vector2d nearest_levels(const Eigen::VectorXd& x, const Eigen::VectorXd& target,
                                      const Eigen::VectorXd& current, double m) {
  Eigen::MatrixXd design(x.size(), 2);
  design.col(0) = x.cwiseQuotient(current);
  design.col(1) = x.array().pow(m) / current.array();
  const Eigen::Vector2d length = design.colwise().norm();
  design = design * length.cwiseInverse().asDiagonal();
  Eigen::MatrixXd gram = design.transpose() * design;
  gram.diagonal().array() += 1e-9;
  const Eigen::VectorXd slope = -design.transpose() * target.cwiseQuotient(current);
  const parameter_box positive{Eigen::VectorXd::Zero(2), Eigen::VectorXd::Constant(2, no_bound)};
  return minimise_in_box(gram, slope, positive).cwiseQuotient(length);
}

inline std::vector<Eigen::VectorXd> magnetising_starts(const curve_problem& problem, double least_power) {
  const auto& in = problem.readings();
  std::vector<Eigen::VectorXd> starts;
  for (const double m : {least_power, 2.4, 3.2, 4.5, 6.5, 9.0, 12.0}) {
    const auto levels = nearest_levels(in.x, in.current, in.current, m);
    starts.push_back(Eigen::Vector3d(levels[0], levels[1], m));
  }
  // Scattered readings may have a second minimum where the bent part leads.
  const double top = in.x.maxCoeff();
  const double level = std::exp((in.current.array() / in.x.array()).log().mean());
  for (const double m : {3.0, 6.0, 12.0})
    for (const double share : {0.3, 3.0})
      starts.push_back(Eigen::Vector3d(level, share * level * std::pow(top, 1.0 - m), m));
  return starts;
}

/// Shares of the active current, of which p / x may take up to all at the reading that has least room for it, and
/// g x then of what is left. From exactly none a search cannot leave: the sum is level there.
inline std::vector<Eigen::VectorXd> loaded_starts(const curve_problem& problem, double least_power) {
  const auto& in = problem.readings();
  std::vector<Eigen::VectorXd> starts;
  for (const double falling : {0.02, 0.5, 0.95}) {
    const double p = falling * in.current.cwiseProduct(in.x).minCoeff();
    for (const double rising : {0.02, 0.7}) {
      const Eigen::VectorXd left = in.current - p * in.x.cwiseInverse();
      const double g = rising * left.cwiseQuotient(in.x).minCoeff();
      const Eigen::VectorXd active = p * in.x.cwiseInverse() + g * in.x;
      const Eigen::VectorXd reactive = (in.current.array().square() - active.array().square()).max(0.0).sqrt();
      for (const double m : {least_power, 3.0, 5.0, 8.0, 12.0}) {
        const auto levels = nearest_levels(in.x, reactive, in.current, m);
        Eigen::VectorXd start(5);
        start << levels[0], levels[1], m, p, g;
        starts.push_back(start);
      }
    }
  }
  return starts;
}

inline bool scanned(const curve_problem& problem) {
  return problem.family() == curve_family::magnetising && problem.readings().weighted();
}

/// The parameters with the lowest sum of squares.
///
/// Proportional, power and log-quadratic from lines and parabolas in logarithms. Magnetising with weights by
/// scan_magnetising. Magnetising without weights, and magnetising with load, from many starts within a, b, p, g >= 0
/// and 2 <= m <= 12, with weights 1.2 <= m <= 12: a search and no proof that nothing lies lower.
inline search_result search_curve(const curve_problem& problem) {
  const auto family = problem.family();
  if (problem.readings().x.size() < parameter_count(family)) return {least_squares_status::too_few_points, {}, 0.0};
  if (!magnetising_kind(family)) return search_lines(problem);
  if (scanned(problem)) return scan_magnetising(problem);
  if (problem.readings().voltages() < parameter_count(family)) return {least_squares_status::singular, {}, 0.0};
  const auto box = box_of(problem);
  const auto starts = family == curve_family::magnetising ? magnetising_starts(problem, box.low[2])
                                                          : loaded_starts(problem, box.low[2]);
  return search_in_box(problem, starts, box);
}

/// The minimum next to a point, such as where a problem of other shares has its own; of a magnetising curve with
/// weights the lowest.
inline search_result search_curve_from(const curve_problem& problem, const Eigen::VectorXd& parameters) {
  if (scanned(problem)) return scan_magnetising(problem);
  if (magnetising_kind(problem.family())) return search_in_box(problem, {parameters}, box_of(problem));
  return descend_from(problem, {parameters});
}

}  // namespace rewound::fit::detail
