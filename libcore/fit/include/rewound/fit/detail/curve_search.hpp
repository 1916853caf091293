// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
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
  const auto& in = problem.readings();
  Eigen::MatrixXd design(in.x.size(), parameter_count(family));
  Eigen::VectorXd log_current(in.x.size());
  for (Eigen::Index i = 0; i < in.x.size(); ++i) {
    const double z = std::log(in.x[i]);
    log_current[i] = std::log(in.current[i]) - (family == curve_family::proportional ? z : 0.0);
    design(i, 0) = 1.0;
    for (Eigen::Index j = 1; j < design.cols(); ++j) design(i, j) = design(i, j - 1) * z;
  }
  return fit_linear(design, log_current, weights);
}

/// Weights with which small deviations of the logarithm count as in the sum itself.
inline Eigen::VectorXd log_weights(const curve_problem& problem) {
  const auto& in = problem.readings();
  Eigen::VectorXd out = problem.share();
  for (Eigen::Index i = 0; i < out.size(); ++i)
    out[i] *=
        in.weighted()
            ? in.weight[i] * in.current[i] * in.current[i]
            : 1.0 / (in.relative_u_current[i] * in.relative_u_current[i] + in.relative_u_x[i] * in.relative_u_x[i]);
  return out;
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
  Eigen::VectorXd wanted(x.size());
  for (Eigen::Index i = 0; i < x.size(); ++i) {
    design(i, 0) = x[i] / current[i];
    design(i, 1) = std::pow(x[i], m) / current[i];
    wanted[i] = -target[i] / current[i];
  }
  Eigen::VectorXd length(2);
  for (Eigen::Index j = 0; j < 2; ++j) length[j] = std::sqrt(column_product(design, j, j));
  design = with_scaled_columns(design, length.cwiseInverse());
  Eigen::MatrixXd gram = fit::transposed_product(design, design);
  for (Eigen::Index j = 0; j < 2; ++j) gram(j, j) += 1e-9;
  const Eigen::VectorXd slope = applied_transposed(design, wanted);
  const parameter_box positive{Eigen::VectorXd::Zero(2), Eigen::VectorXd::Constant(2, no_bound)};
  const Eigen::VectorXd scaled = minimise_in_box(gram, slope, positive);
  return {scaled[0] / length[0], scaled[1] / length[1]};
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
  double sum = 0.0;
  for (Eigen::Index i = 0; i < in.x.size(); ++i) sum += std::log(in.current[i] / in.x[i]);
  const double level = std::exp(sum / static_cast<double>(in.x.size()));
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
    double least = no_bound;
    for (Eigen::Index i = 0; i < in.x.size(); ++i) least = std::min(least, in.current[i] * in.x[i]);
    const double p = falling * least;
    for (const double rising : {0.02, 0.7}) {
      double left = no_bound;
      for (Eigen::Index i = 0; i < in.x.size(); ++i) left = std::min(left, (in.current[i] - p / in.x[i]) / in.x[i]);
      const double g = rising * left;
      Eigen::VectorXd reactive(in.x.size());
      for (Eigen::Index i = 0; i < in.x.size(); ++i) {
        const double active = p / in.x[i] + g * in.x[i];
        reactive[i] = std::sqrt(std::max(0.0, in.current[i] * in.current[i] - active * active));
      }
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
