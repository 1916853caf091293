// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cmath>
#include <limits>
#include <utility>

#include <Eigen/Core>

#include <rewound/fit/dense.hpp>
#include <rewound/fit/detail/local_model.hpp>

namespace rewound::fit::detail {

/// Squared length of a vector whose axes are scaled.
inline double square_along(const Eigen::VectorXd& scale, const Eigen::VectorXd& vector) {
  double sum = 0.0;
  for (Eigen::Index i = 0; i < vector.size(); ++i) {
    const double scaled = scale[i] * vector[i];
    sum += scaled * scaled;
  }
  return sum;
}

/// Why the search stopped; the public status is decided from it and from the state reached.
enum class search_end { stationary, no_progress, iteration_limit, not_finite };

struct search_limits {
  int iterations = 0;
  double offset = 0.0;
  double radius_factor = 0.0;
};

/// A residual function and its Jacobian behind one type, so that the search is compiled once and not per callable.
class search_problem {
 public:
  virtual ~search_problem() = default;
  virtual Eigen::VectorXd residuals(const Eigen::VectorXd& parameters) const = 0;
  virtual Eigen::MatrixXd jacobian(const Eigen::VectorXd& parameters) const = 0;
};

template <class Residuals, class Jacobian>
class callable_problem final : public search_problem {
 public:
  callable_problem(const Residuals& residuals, const Jacobian& jacobian) : residuals_(residuals), jacobian_(jacobian) {}
  Eigen::VectorXd residuals(const Eigen::VectorXd& parameters) const override { return residuals_(parameters); }
  Eigen::MatrixXd jacobian(const Eigen::VectorXd& parameters) const override { return jacobian_(parameters); }

 private:
  const Residuals& residuals_;
  const Jacobian& jacobian_;
};

/// Levenberg-Marquardt search in a trust region whose axes follow the largest column norms seen so far.
///
/// Differs from MINPACK's lmder in when it believes to have arrived: a small radius or a small reduction never
/// counts as success by itself, only a small relative offset does.
/// Source of scaling, radius update and acceptance: J. J. More 1978 (see local_model.hpp).
class levenberg_marquardt {
 public:
  /// @param residuals  at the start, finite
  /// @param jacobian   at the start
  levenberg_marquardt(const search_problem& problem, Eigen::VectorXd start, Eigen::VectorXd residuals,
                      Eigen::MatrixXd jacobian, search_limits limits)
      : problem_(problem),
        limits_(limits),
        parameters_(std::move(start)),
        residuals_(std::move(residuals)),
        jacobian_(std::move(jacobian)),
        scale_(Eigen::VectorXd::Zero(parameters_.size())) {}

  search_end run() {
    if (!linearise_here()) return search_end::not_finite;
    const double size = scaled_size();
    radius_ = limits_.radius_factor * (size > 0.0 ? size : 1.0);
    const search_end end = descend();
    if (end == search_end::not_finite || !rescale()) return search_end::not_finite;
    if (end != search_end::iteration_limit) polish();
    return end;
  }

  const Eigen::VectorXd& parameters() const { return parameters_; }
  const Eigen::VectorXd& residuals() const { return residuals_; }
  const Eigen::MatrixXd& jacobian() const { return jacobian_; }
  int iterations() const { return iterations_; }
  double offset() const { return relative_offset(model_, residuals_.size()); }

  /// Length of the undamped step against the length of the parameters, both in scaled units. Infinite while a
  /// direction is out of sight: on a plateau the step in the visible directions is short and means nothing.
  double relative_newton_step() const {
    const double noise = model_.noise(residuals_.size());
    for (const double singular : model_.singular)
      if (singular <= noise) return std::numeric_limits<double>::infinity();
    const double step = step_for_damping(model_, 0.0, noise).norm();
    return step == 0.0 ? 0.0 : step / scaled_size();
  }

 private:
  static constexpr double epsilon = std::numeric_limits<double>::epsilon();

  double scaled_size() const { return std::sqrt(square_along(scale_, parameters_)); }

  Eigen::VectorXd unscaled(const Eigen::VectorXd& coordinates) const {
    Eigen::VectorXd out = applied(model_.directions, coordinates);
    for (Eigen::Index i = 0; i < out.size(); ++i) out[i] /= scale_[i];
    return out;
  }

  /// New Jacobian and linear picture at the present point; false when they are not finite.
  bool relinearise() {
    jacobian_ = problem_.jacobian(parameters_);
    return linearise_here();
  }

  /// The linear picture by the present Jacobian.
  bool linearise_here() {
    if (!jacobian_.allFinite()) return false;
    for (Eigen::Index column = 0; column < jacobian_.cols(); ++column) {
      scale_[column] = std::max(scale_[column], column_length(jacobian_, column));
      if (!(scale_[column] > 0.0)) scale_[column] = 1.0;
    }
    if (!scale_.allFinite()) return false;
    model_ = linearise(residuals_, jacobian_, scale_);
    return model_.explained.allFinite() && model_.singular.allFinite();
  }

  /// Forgets the largest column norms of the way here, so that the end is judged by the columns at the end.
  bool rescale() {
    scale_.setZero();
    return linearise_here();
  }

  search_end descend() {
    while (iterations_ < limits_.iterations) {
      if (offset() <= limits_.offset) return search_end::stationary;
      if (relative_newton_step() <= 4.0 * epsilon) return search_end::stationary;
      bool moved = false;
      while (!moved) {
        if (iterations_ >= limits_.iterations) return search_end::iteration_limit;
        if (radius_ <= epsilon * scaled_size() || radius_ < std::numeric_limits<double>::min()) {
          return search_end::no_progress;
        }
        ++iterations_;
        const damped_step step = trust_region_step(model_, radius_, model_.noise(residuals_.size()));
        const double predicted = predicted_reduction(step);
        if (predicted <= 4.0 * epsilon) return search_end::no_progress;
        moved = attempt(step, predicted);
      }
      if (!relinearise()) return search_end::not_finite;
    }
    return search_end::iteration_limit;
  }

  /// Fraction of chi2 that the linear picture promises to remove.
  double predicted_reduction(const damped_step& step) const {
    const double before = residuals_.squaredNorm();
    if (before == 0.0) return 0.0;
    const double along = square_along(model_.singular, step.coordinates);
    return (along + 2.0 * step.damping * step.coordinates.squaredNorm()) / before;
  }

  /// Tries one step, resizes the region, and moves there when chi2 falls as promised.
  bool attempt(const damped_step& step, double predicted) {
    const Eigen::VectorXd trial = parameters_ + unscaled(step.coordinates);
    const Eigen::VectorXd trial_residuals = problem_.residuals(trial);
    const double before = length_of(residuals_.data(), residuals_.size());
    const double after = length_of(trial_residuals.data(), trial_residuals.size());
    // A model that overflows or leaves its domain is a step too far and not an end of the search.
    const double growth = std::isfinite(after) ? after / before : std::numeric_limits<double>::infinity();
    const double actual = growth < 10.0 ? 1.0 - growth * growth : -1.0;
    resize(step, predicted, actual);
    constexpr double least_share = 1e-4;
    if (!(actual >= least_share * predicted)) return false;
    parameters_ = trial;
    residuals_ = trial_residuals;
    return true;
  }

  void resize(const damped_step& step, double predicted, double actual) {
    const double length = step.coordinates.norm();
    const double share = actual / predicted;
    if (share > 0.25) {
      if (step.damping == 0.0 || share >= 0.75) radius_ = 2.0 * length;
      return;
    }
    const double before = residuals_.squaredNorm();
    const double along = square_along(model_.singular, step.coordinates) / before;
    const double slope = -(along + step.damping * step.coordinates.squaredNorm() / before);
    double factor = actual >= 0.0 ? 0.5 : 0.5 * slope / (slope + 0.5 * actual);
    if (!(factor >= 0.1)) factor = 0.1;
    radius_ = factor * std::min(radius_, length / 0.1);
  }

  /// Undamped steps judged by the offset: near the end chi2 has no digits left to tell a better point by,
  /// while the gradient still has. Large residuals make these steps converge slowly, hence their number.
  void polish() {
    constexpr int most_steps = 50;
    constexpr double enough = 1e-11;
    constexpr double least_gain = 0.9;
    for (int step = 0; step < most_steps && offset() > enough; ++step) {
      const levenberg_marquardt before = *this;
      const double old_offset = offset();
      parameters_ += unscaled(step_for_damping(model_, 0.0, model_.noise(residuals_.size())));
      residuals_ = problem_.residuals(parameters_);
      const bool finite = residuals_.allFinite() && relinearise();
      if (!finite || !(offset() < least_gain * old_offset)) {
        restore(before);
        return;
      }
    }
  }

  void restore(const levenberg_marquardt& other) {
    parameters_ = other.parameters_;
    residuals_ = other.residuals_;
    jacobian_ = other.jacobian_;
    scale_ = other.scale_;
    model_ = other.model_;
  }

  const search_problem& problem_;
  search_limits limits_;
  Eigen::VectorXd parameters_;
  Eigen::VectorXd residuals_;
  Eigen::MatrixXd jacobian_;
  Eigen::VectorXd scale_;
  local_model model_;
  double radius_ = 0.0;
  int iterations_ = 0;
};

}  // namespace rewound::fit::detail
