// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cmath>
#include <limits>
#include <vector>

#include <Eigen/Core>

#include <rewound/fit/detail/box_search.hpp>
#include <rewound/fit/detail/curve_search.hpp>

namespace rewound::fit::detail {

/// Where the parameters of a curve may lie when it is fitted.
inline parameter_box bounds_of(const curve_problem& problem) {
  const auto family = problem.family();
  if (magnetising_kind(family)) {
    auto box = box_of(problem);
    if (scanned(problem)) box.low[0] = box.low[1] = -no_bound;
    return box;
  }
  const Eigen::Index count = parameter_count(family);
  parameter_box box{Eigen::VectorXd::Constant(count, -no_bound), Eigen::VectorXd::Constant(count, no_bound)};
  if (family != curve_family::log_quadratic) box.low[0] = 0.0;
  return box;
}

/// The lowest sum of squares that descents from these starts reach in the box; its point is in `reached`. Infinite
/// where none is finite.
inline double lowest_sum(const curve_problem& problem, const std::vector<Eigen::VectorXd>& starts,
                         const parameter_box& box, Eigen::VectorXd& reached) {
  constexpr int short_run = 12;
  constexpr std::size_t promising = 4;
  std::vector<box_descent> ends;
  for (const auto& start : starts) {
    ends.emplace_back(problem, box, start);
    ends.back().run(short_run);
    if (!std::isfinite(ends.back().chi2())) ends.pop_back();
  }
  const auto lower = [](const box_descent& a, const box_descent& b) { return a.chi2() < b.chi2(); };
  std::stable_sort(ends.begin(), ends.end(), lower);
  double best = std::numeric_limits<double>::infinity();
  for (std::size_t i = 0; i < std::min(promising, ends.size()); ++i) {
    ends[i].run(long_run);
    if (!(ends[i].chi2() < best)) continue;
    best = ends[i].chi2();
    reached = ends[i].parameters();
  }
  return best;
}

/// The sum of squares of a curve with one parameter held, and where it has risen so far.
class profile_search {
 public:
  /// @param scale  what a rise of the sum counts in
  profile_search(const curve_problem& problem, const Eigen::VectorXd& best, const Eigen::MatrixXd& covariance,
                 Eigen::Index held, double scale)
      : problem_(problem),
        box_(bounds_of(problem)),
        best_(best),
        held_(held),
        scale_(scale),
        sum_(problem.residuals(best).squaredNorm()),
        near_(best) {
    const double variance = covariance(held, held);
    along_ = Eigen::VectorXd::Zero(best.size());
    along_[held] = 1.0;
    if (variance > 0.0)
      for (Eigen::Index j = 0; j < best.size(); ++j) along_[j] = covariance(j, held) / variance;
    step_ = variance > 0.0 ? std::sqrt(variance) : some_step();
  }

  /// Where the root of the rise over the scale comes to `quantile`, below (side -1) or above (+1) the best value.
  double end(double quantile, double side) {
    near_ = best_;
    double inner = best_[held_];
    const double bound = side < 0.0 ? box_.low[held_] : box_.high[held_];
    if (inner == bound) return bound;
    double step = quantile * step_;
    constexpr int most_steps = 60;
    for (int i = 0; i < most_steps; ++i, step *= 2.0) {
      double outer = best_[held_] + side * step;
      const bool beyond = side * (outer - bound) >= 0.0;
      if (beyond) outer = bound;
      double over = excess(outer, quantile);
      if (beyond && !std::isfinite(over)) {  // the curve does not exist there: halfway
        outer = 0.5 * (inner + bound);
        over = excess(outer, quantile);
      }
      if (!std::isfinite(over)) break;
      if (over >= 0.0) return root(inner, outer, over, quantile);
      if (outer == bound) return bound;
      inner = outer;
    }
    return side * no_bound;
  }

 private:
  /// Of a parameter whose variance says nothing.
  double some_step() const {
    if (magnetising_kind(problem_.family()) && held_ == 2) return 0.1 * (box_.high[2] - box_.low[2]);
    return 0.01 * std::max(std::abs(best_[held_]), problem_.readings().current.mean());
  }

  std::vector<Eigen::VectorXd> starts(double value) const {
    std::vector<Eigen::VectorXd> out{near_, best_, best_ + (value - best_[held_]) * along_};
    if (!magnetising_kind(problem_.family())) return out;
    const auto more = problem_.family() == curve_family::magnetising ? magnetising_starts(problem_, box_.low[2])
                                                                     : loaded_starts(problem_, box_.low[2]);
    out.insert(out.end(), more.begin(), more.end());
    return out;
  }

  /// Root of the rise over the scale, less `quantile`; infinite where the curve does not exist.
  double excess(double value, double quantile) {
    parameter_box held = box_;
    held.low[held_] = held.high[held_] = value;
    Eigen::VectorXd reached = near_;
    const double sum = lowest_sum(problem_, starts(value), held, reached);
    if (!std::isfinite(sum)) return no_bound;
    near_ = reached;
    return std::sqrt(std::max(0.0, sum - sum_) / scale_) - quantile;
  }

  /// The rise's root is nearly a straight line: secants that keep both ends (Illinois), halves where they are slow.
  double root(double inner, double outer, double over, double quantile) {
    constexpr int most_steps = 100;
    constexpr double enough = 1e-9;
    double below = inner == best_[held_] ? -quantile : excess(inner, quantile);
    int same = 0;
    for (int i = 0; i < most_steps && std::abs(over) > enough; ++i) {
      const double width = outer - inner;
      if (std::abs(width) <= enough * step_ || inner + 0.5 * width == inner) break;
      const double secant = inner - below * width / (over - below);
      const double middle = std::abs(same) > 3 ? inner + 0.5 * width : secant;
      const double here = excess(middle, quantile);
      if (std::abs(here) <= enough) return middle;
      if (here > 0.0) {
        outer = middle;
        over = here;
        if (same > 0) below *= 0.5;
        same = std::max(same, 0) + 1;
      } else {
        inner = middle;
        below = here;
        if (same < 0) over *= 0.5;
        same = std::min(same, 0) - 1;
      }
    }
    return outer;
  }

  const curve_problem& problem_;
  parameter_box box_;
  Eigen::VectorXd best_;
  Eigen::Index held_;
  double scale_;
  double sum_;
  Eigen::VectorXd near_;   ///< the last point reached
  Eigen::VectorXd along_;  ///< how the others follow the held one, to first order
  double step_;
};

}  // namespace rewound::fit::detail
