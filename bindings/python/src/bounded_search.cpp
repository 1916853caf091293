// SPDX-License-Identifier: MIT
#include "bounded_search.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

#include <Eigen/Cholesky>

namespace rewound::python {

namespace {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;
using fit::curve_family;
using indices = std::vector<Index>;

indices where(const std::vector<bool>& flags, bool wanted) {
  indices out;
  for (std::size_t j = 0; j < flags.size(); ++j)
    if (flags[j] == wanted) out.push_back(static_cast<Index>(j));
  return out;
}

/// The share of the way to `target` that stays inside the box, and the variable that ends it (-1: none).
std::pair<double, Index> way_inside(const VectorXd& from, const VectorXd& target, const indices& open,
                                    const parameter_box& box) {
  double share = 1.0;
  Index blocking = -1;
  for (const Index j : open) {
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
Index to_release(const VectorXd& gradient, const VectorXd& at, const std::vector<bool>& held,
                 const parameter_box& box) {
  Index best = -1;
  double gain = 0.0;
  for (const Index j : where(held, true)) {
    if (box.low[j] == box.high[j]) continue;
    const double inward = at[j] == box.low[j] ? -gradient[j] : gradient[j];
    if (inward <= gain) continue;
    gain = inward;
    best = j;
  }
  return best;
}

constexpr int long_run = 200;

/// One descent in the box; its state is the point reached.
class box_descent {
 public:
  box_descent(const curve_problem& problem, const parameter_box& box, const VectorXd& start)
      : problem_(&problem),
        box_(&box),
        parameters_(start.cwiseMax(box.low).cwiseMin(box.high)),
        residuals_(problem.residuals(parameters_)),
        scale_(VectorXd::Zero(start.size())) {}

  const VectorXd& parameters() const { return parameters_; }
  double chi2() const { return residuals_.squaredNorm(); }

  /// At most so many steps more.
  void run(int steps) {
    for (int i = 0; i < steps && !arrived_ && residuals_.allFinite(); ++i) {
      const MatrixXd jacobian = problem_->jacobian(parameters_);
      if (!jacobian.allFinite()) return;
      scale_ = scale_.cwiseMax(jacobian.colwise().norm().transpose());
      arrived_ = !step(jacobian, scale_.unaryExpr([](double s) { return s > 0.0 ? s : 1.0; }));
    }
  }

 private:
  /// Damps until chi2 falls; false when it is no longer worth it.
  bool step(const MatrixXd& jacobian, const VectorXd& scale) {
    constexpr double negligible = 1e-15;
    constexpr double small = 1e-10;  // left to settle(), once damping no longer shortens the step
    constexpr double most_damping = 1e12;
    const MatrixXd scaled = jacobian * scale.cwiseInverse().asDiagonal();
    const VectorXd gradient = scaled.transpose() * residuals_;
    const MatrixXd gram = scaled.transpose() * scaled;
    const parameter_box room{(box_->low - parameters_).cwiseProduct(scale),
                             (box_->high - parameters_).cwiseProduct(scale)};
    for (; damping_ < most_damping; damping_ *= 4.0) {
      MatrixXd damped = gram;
      damped.diagonal().array() += damping_;
      const VectorXd move = minimise_in_box(damped, gradient, room);
      const double promised = -2.0 * gradient.dot(move) - (scaled * move).squaredNorm();
      if (!(promised > (damping_ < small ? small : negligible) * chi2())) return false;
      if (moved(move.cwiseQuotient(scale), promised)) return true;
    }
    return false;
  }

  bool moved(const VectorXd& by, double promised) {
    constexpr double least_damping = 1e-12;  // below it the gram matrix itself is rounding noise
    const VectorXd trial = (parameters_ + by).cwiseMax(box_->low).cwiseMin(box_->high);
    const VectorXd after = problem_->residuals(trial);
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
  VectorXd parameters_;
  VectorXd residuals_;
  VectorXd scale_;
  double damping_ = 1e-3;
  bool arrived_ = false;
};

/// One way to write each curve: m at its bound where b = 0, and no g beside a where both say the same.
void make_canonical(curve_family family, const parameter_box& box, VectorXd& p) {
  if (p.size() < 3 || family == curve_family::log_quadratic || p[1] != 0.0) return;
  p[2] = box.low[2];
  if (family != curve_family::magnetising_load || p[3] != 0.0) return;
  p[0] = std::hypot(p[0], p[4]);
  p[4] = 0.0;
}

indices inside(const VectorXd& parameters, const parameter_box& box) {
  indices out;
  for (Index j = 0; j < parameters.size(); ++j)
    if (parameters[j] > box.low[j] && parameters[j] < box.high[j]) out.push_back(j);
  return out;
}

/// Fits the parameters that are off their bounds, from a point near the minimum.
fit::least_squares_result settle(const curve_problem& problem, const VectorXd& at, const indices& open) {
  const auto whole = [&](const VectorXd& some) {
    VectorXd out = at;
    out(open) = some;
    return out;
  };
  const auto residuals = [&](const VectorXd& some) { return problem.residuals(whole(some)); };
  const auto jacobian = [&](const VectorXd& some) { return MatrixXd(problem.jacobian(whole(some))(Eigen::all, open)); };
  return fit::fit_least_squares(residuals, jacobian, VectorXd(at(open)), tight_search);
}

search_result settled(const curve_problem& problem, VectorXd at, const parameter_box& box) {
  constexpr int most_returns = 5;
  for (int i = 0; i < most_returns; ++i) {
    make_canonical(problem.family(), box, at);
    const indices open = inside(at, box);
    if (open.empty()) return {fit::least_squares_status::converged, at, problem.residuals(at).squaredNorm()};
    const auto found = settle(problem, at, open);
    if (!found.usable()) return {found.status, {}, 0.0};
    VectorXd there = at;
    there(open) = found.parameters;
    if (inside(there, box).size() == open.size()) return {found.status, there, found.chi2};
    box_descent again(problem, box, there);
    again.run(long_run);
    at = again.parameters();
  }
  return {fit::least_squares_status::stalled, {}, 0.0};
}

}  // namespace

VectorXd minimise_in_box(const MatrixXd& hessian, const VectorXd& gradient, const parameter_box& box) {
  constexpr int most_changes = 60;
  VectorXd at = VectorXd::Zero(gradient.size());
  std::vector<bool> held(static_cast<std::size_t>(gradient.size()), false);
  for (int change = 0; change < most_changes; ++change) {
    const indices open = where(held, false);
    VectorXd target = at;
    if (!open.empty()) {
      const VectorXd slope = gradient + hessian * at;
      target(open) -= MatrixXd(hessian(open, open)).llt().solve(VectorXd(slope(open)));
    }
    const auto [share, blocking] = way_inside(at, target, open, box);
    at += share * (target - at);
    if (blocking >= 0) {
      at[blocking] = target[blocking] <= box.low[blocking] ? box.low[blocking] : box.high[blocking];
      held[static_cast<std::size_t>(blocking)] = true;
      continue;
    }
    const Index released = to_release(gradient + hessian * at, at, held, box);
    if (released < 0) return at;
    held[static_cast<std::size_t>(released)] = false;
  }
  return at;
}

search_result search_in_box(const curve_problem& problem, const std::vector<VectorXd>& starts,
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
  if (!std::isfinite(ends.front().chi2())) return {fit::least_squares_status::not_finite, {}, 0.0};
  search_result first{};
  for (std::size_t i = 0; i < ends.size(); ++i) {
    auto found = settled(problem, ends[i].parameters(), box);
    if (found.usable()) return found;
    if (i == 0) first = found;
  }
  return first;
}

}  // namespace rewound::python
