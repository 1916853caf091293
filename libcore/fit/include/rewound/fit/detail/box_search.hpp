// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cmath>
#include <limits>
#include <utility>
#include <vector>

#include <Eigen/Core>

#include <rewound/fit/dense.hpp>
#include <rewound/fit/detail/curve_problem.hpp>
#include <rewound/fit/detail/picked.hpp>
#include <rewound/fit/least_squares.hpp>

namespace rewound::fit::detail {

/// Where each parameter may lie, bounds included.
struct parameter_box {
  Eigen::VectorXd low;
  Eigen::VectorXd high;
};

/// What a search ended with; parameters and chi2 are only set when the status is one of convergence.
struct search_result {
  least_squares_status status = least_squares_status::singular;
  Eigen::VectorXd parameters;
  double chi2 = 0.0;

  bool usable() const { return has_converged(status); }
};

/// The tightest at which chi2 still has digits to steer by; a hundred-millionth of a standard error.
inline constexpr least_squares_options tight_search{.offset_tolerance = 1e-8};

inline indices where(const std::vector<bool>& flags, bool wanted) {
  indices out;
  for (std::size_t j = 0; j < flags.size(); ++j)
    if (flags[j] == wanted) out.push_back(static_cast<Eigen::Index>(j));
  return out;
}

/// The share of the way to `target` that stays inside the box, and the variable that ends it (-1: none).
inline std::pair<double, Eigen::Index> way_inside(const Eigen::VectorXd& from, const Eigen::VectorXd& target,
                                                  const indices& open, const parameter_box& box) {
  double share = 1.0;
  Eigen::Index blocking = -1;
  for (const Eigen::Index j : open) {
    const double bound = target[j] < from[j] ? box.low[j] : box.high[j];
    const double over = target[j] < from[j] ? bound - target[j] : target[j] - bound;
    if (!(over > 0.0)) continue;
    const double here = (bound - from[j]) / (target[j] - from[j]);
    if (here < share || blocking < 0) {
      share = std::min(share, here);
      blocking = j;
    }
  }
  return {share, blocking};
}

/// The held variable that gains most by leaving its bound, -1 when none does.
inline Eigen::Index to_release(const Eigen::VectorXd& gradient, const Eigen::VectorXd& at,
                               const std::vector<bool>& held, const parameter_box& box) {
  Eigen::Index best = -1;
  double gain = 0.0;
  for (const Eigen::Index j : where(held, true)) {
    if (box.low[j] == box.high[j]) continue;
    const double inward = at[j] == box.low[j] ? -gradient[j] : gradient[j];
    if (inward <= gain) continue;
    gain = inward;
    best = j;
  }
  return best;
}

/// gradient + hessian at.
inline Eigen::VectorXd slope_at(const Eigen::MatrixXd& hessian, const Eigen::VectorXd& gradient,
                                const Eigen::VectorXd& at) {
  Eigen::VectorXd out = applied(hessian, at);
  for (Eigen::Index j = 0; j < out.size(); ++j) out[j] += gradient[j];
  return out;
}

/// The s in [low, high] with the lowest s'Hs/2 + gradient's; H positive definite, low <= 0 <= high.
///
/// Source: primal active sets (J. Nocedal, S. J. Wright, Numerical Optimization, 2nd ed. (2006), 16.5).
inline Eigen::VectorXd minimise_in_box(const Eigen::MatrixXd& hessian, const Eigen::VectorXd& gradient,
                                       const parameter_box& box) {
  constexpr int most_changes = 60;
  Eigen::VectorXd at = Eigen::VectorXd::Zero(gradient.size());
  std::vector<bool> held(static_cast<std::size_t>(gradient.size()), false);
  for (int change = 0; change < most_changes; ++change) {
    const indices open = where(held, false);
    Eigen::VectorXd target = at;
    if (!open.empty()) {
      const Eigen::VectorXd step =
          cholesky_factor(principal_part(hessian, open)).solve(picked(slope_at(hessian, gradient, at), open));
      for (std::size_t i = 0; i < open.size(); ++i) target[open[i]] -= step[static_cast<Eigen::Index>(i)];
    }
    const auto [share, blocking] = way_inside(at, target, open, box);
    for (Eigen::Index j = 0; j < at.size(); ++j) at[j] += share * (target[j] - at[j]);
    if (blocking >= 0) {
      at[blocking] = target[blocking] <= box.low[blocking] ? box.low[blocking] : box.high[blocking];
      held[static_cast<std::size_t>(blocking)] = true;
      continue;
    }
    const Eigen::Index released = to_release(slope_at(hessian, gradient, at), at, held, box);
    if (released < 0) return at;
    held[static_cast<std::size_t>(released)] = false;
  }
  return at;
}

inline constexpr int long_run = 200;

/// The nearest point in the box.
inline Eigen::VectorXd held_in(Eigen::VectorXd point, const parameter_box& box) {
  for (Eigen::Index j = 0; j < point.size(); ++j) point[j] = std::min(std::max(point[j], box.low[j]), box.high[j]);
  return point;
}

/// One descent in the box; its state is the point reached.
class box_descent {
 public:
  box_descent(const curve_problem& problem, const parameter_box& box, const Eigen::VectorXd& start)
      : problem_(&problem),
        box_(&box),
        parameters_(held_in(start, box)),
        residuals_(problem.residuals(parameters_)),
        scale_(Eigen::VectorXd::Zero(start.size())) {}

  const Eigen::VectorXd& parameters() const { return parameters_; }
  double chi2() const { return residuals_.squaredNorm(); }

  /// At most so many steps more.
  void run(int steps) {
    for (int i = 0; i < steps && !arrived_ && residuals_.allFinite(); ++i) {
      const Eigen::MatrixXd jacobian = problem_->jacobian(parameters_);
      if (!jacobian.allFinite()) return;
      Eigen::VectorXd scale = scale_;
      for (Eigen::Index j = 0; j < scale.size(); ++j) {
        scale_[j] = std::max(scale_[j], std::sqrt(column_product(jacobian, j, j)));
        scale[j] = scale_[j] > 0.0 ? scale_[j] : 1.0;
      }
      arrived_ = !step(jacobian, scale);
    }
  }

 private:
  /// Damps until chi2 falls; false when it is no longer worth it.
  bool step(const Eigen::MatrixXd& jacobian, const Eigen::VectorXd& scale) {
    constexpr double negligible = 1e-15;
    constexpr double small = 1e-10;  // left to settle(), once damping no longer shortens the step
    constexpr double most_damping = 1e12;
    const Eigen::MatrixXd scaled = with_scaled_columns(jacobian, scale.cwiseInverse());
    const Eigen::VectorXd gradient = applied_transposed(scaled, residuals_);
    const Eigen::MatrixXd gram = fit::transposed_product(scaled, scaled);
    parameter_box room = *box_;
    for (Eigen::Index j = 0; j < scale.size(); ++j) {
      room.low[j] = (room.low[j] - parameters_[j]) * scale[j];
      room.high[j] = (room.high[j] - parameters_[j]) * scale[j];
    }
    for (; damping_ < most_damping; damping_ *= 4.0) {
      Eigen::MatrixXd damped = gram;
      for (Eigen::Index j = 0; j < scale.size(); ++j) damped(j, j) += damping_;
      Eigen::VectorXd move = minimise_in_box(damped, gradient, room);
      const double promised = -2.0 * dot(gradient, move) - applied(scaled, move).squaredNorm();
      if (!(promised > (damping_ < small ? small : negligible) * chi2())) return false;
      for (Eigen::Index j = 0; j < scale.size(); ++j) move[j] /= scale[j];
      if (moved(move, promised)) return true;
    }
    return false;
  }

  bool moved(const Eigen::VectorXd& by, double promised) {
    constexpr double least_damping = 1e-12;  // below it the gram matrix itself is rounding noise
    const Eigen::VectorXd trial = held_in(parameters_ + by, *box_);
    const Eigen::VectorXd after = problem_->residuals(trial);
    if (!after.allFinite()) return false;
    const double fall = chi2() - after.squaredNorm();
    if (!(fall > 1e-4 * promised)) return false;
    if (fall > 0.5 * promised) damping_ = std::max(least_damping, damping_ / 8.0);
    parameters_ = trial;
    residuals_ = after;
    return true;
  }

  const curve_problem* problem_;  // pointers, so that descents can be sorted
  const parameter_box* box_;
  Eigen::VectorXd parameters_;
  Eigen::VectorXd residuals_;
  Eigen::VectorXd scale_;
  double damping_ = 1e-3;
  bool arrived_ = false;
};

/// One way to write each curve: m at its bound where b = 0, and no g beside a where both say the same.
inline void make_canonical(curve_family family, const parameter_box& box, Eigen::VectorXd& p) {
  if (p.size() < 3 || family == curve_family::log_quadratic || p[1] != 0.0) return;
  p[2] = box.low[2];
  if (family != curve_family::magnetising_load || p[3] != 0.0) return;
  p[0] = std::hypot(p[0], p[4]);
  p[4] = 0.0;
}

inline indices inside(const Eigen::VectorXd& parameters, const parameter_box& box) {
  indices out;
  for (Eigen::Index j = 0; j < parameters.size(); ++j)
    if (parameters[j] > box.low[j] && parameters[j] < box.high[j]) out.push_back(j);
  return out;
}

/// Fits the parameters that are off their bounds, from a point near the minimum.
inline least_squares_result settle(const curve_problem& problem, const Eigen::VectorXd& at, const indices& open) {
  const auto whole = [&](const Eigen::VectorXd& some) { return replaced(at, open, some); };
  const auto residuals = [&](const Eigen::VectorXd& some) { return problem.residuals(whole(some)); };
  const auto jacobian = [&](const Eigen::VectorXd& some) {
    return picked_columns(problem.jacobian(whole(some)), open);
  };
  return fit_least_squares(residuals, jacobian, picked(at, open), tight_search);
}

inline search_result settled(const curve_problem& problem, Eigen::VectorXd at, const parameter_box& box) {
  constexpr int most_returns = 5;
  for (int i = 0; i < most_returns; ++i) {
    make_canonical(problem.family(), box, at);
    const indices open = inside(at, box);
    if (open.empty()) return {least_squares_status::converged, at, problem.residuals(at).squaredNorm()};
    const auto found = settle(problem, at, open);
    if (!found.usable()) return {found.status, {}, 0.0};
    const Eigen::VectorXd there = replaced(at, open, found.parameters);
    if (inside(there, box).size() == open.size()) return {found.status, there, found.chi2};
    box_descent again(problem, box, there);
    again.run(long_run);
    at = again.parameters();
  }
  return {least_squares_status::stalled, {}, 0.0};
}

/// The lowest minimum inside the box that Levenberg-Marquardt steps reach from any of the starts. Parameters that
/// stop at a bound stand exactly on it. The end is settled by fit_least_squares over the others.
inline search_result search_in_box(const curve_problem& problem, const std::vector<Eigen::VectorXd>& starts,
                                   const parameter_box& box) {
  constexpr int short_run = 12;
  constexpr std::size_t promising = 8;  // of the starts go on after the short run
  std::vector<box_descent> ends;
  for (const auto& start : starts) {
    ends.emplace_back(problem, box, start);
    ends.back().run(short_run);
  }
  // What is not finite goes last.
  const auto lower = [](const box_descent& a, const box_descent& b) {
    return a.chi2() < b.chi2() || (std::isfinite(a.chi2()) && !std::isfinite(b.chi2()));
  };
  std::stable_sort(ends.begin(), ends.end(), lower);
  ends.resize(std::min(ends.size(), promising), ends.front());
  for (auto& end : ends) end.run(long_run);
  std::stable_sort(ends.begin(), ends.end(), lower);
  if (!std::isfinite(ends.front().chi2())) return {least_squares_status::not_finite, {}, 0.0};
  search_result first{};
  for (std::size_t i = 0; i < ends.size(); ++i) {
    auto found = settled(problem, ends[i].parameters(), box);
    if (found.usable()) return found;
    if (i == 0) first = found;
  }
  return first;
}

}  // namespace rewound::fit::detail
