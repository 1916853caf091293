// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>
#include <limits>
#include <optional>
#include <string>
#include <string_view>
#include <utility>

#include <Eigen/Core>

#include <rewound/base/expect.hpp>
#include <rewound/fit/detail/scaled_qr.hpp>

namespace rewound::fit {

/// How a linear fit ended. Only `solved` carries numbers.
enum class linear_status {
  solved,
  singular,        ///< the readings do not determine every parameter
  too_few_points,  ///< fewer readings than parameters
  not_finite       ///< a reading, a weight or a design entry is not a finite number, or the fit overflowed
};

/// The stable name of a status, as printed.
constexpr std::string_view name(linear_status status) {
  switch (status) {
    case linear_status::solved: return "solved";
    case linear_status::singular: return "singular";
    case linear_status::too_few_points: return "too_few_points";
    case linear_status::not_finite: return "not_finite";
  }
  return "unknown";
}

/// Outcome of a weighted linear least-squares fit.
///
/// Unless usable(), parameters, covariance, residuals and chi2 are all NaN: a caller that forgets to look at
/// the status computes NaN and never a plausible number.
struct linear_result {
  linear_status status = linear_status::not_finite;
  Eigen::VectorXd parameters;
  /// (X^T W X)^-1. It is the covariance when weights are 1/u^2; multiply by chi2/dof when only the relative
  /// size of the weights is known.
  Eigen::MatrixXd covariance_unscaled;
  Eigen::VectorXd residuals;                               ///< y - X b, not weighted
  double chi2 = std::numeric_limits<double>::quiet_NaN();  ///< sum of w (y - X b)^2
  Eigen::Index degrees_of_freedom = 0;                     ///< readings minus parameters; may be 0
  Eigen::Index rank = 0;
  double condition = std::numeric_limits<double>::infinity();  ///< of sqrt(W) X with columns of equal length

  bool usable() const { return status == linear_status::solved; }
};

namespace detail {

inline linear_result unusable_linear(linear_status status, Eigen::Index readings, Eigen::Index columns) {
  constexpr double nan = std::numeric_limits<double>::quiet_NaN();
  linear_result result;
  result.status = status;
  result.parameters = Eigen::VectorXd::Constant(columns, nan);
  result.covariance_unscaled = Eigen::MatrixXd::Constant(columns, columns, nan);
  result.residuals = Eigen::VectorXd::Constant(readings, nan);
  return result;
}

}  // namespace detail

/// A weighted design taken apart once, for any number of targets; each is solved as by fit_linear.
class weighted_design {
 public:
  /// Needs as many rows as columns or more, and weights above 0.
  weighted_design(const Eigen::MatrixXd& design, Eigen::VectorXd root_weights)
      : root_weights_(std::move(root_weights)), rows_(design.rows()), columns_(design.cols()) {
    Eigen::MatrixXd weighted = design;
    for (Eigen::Index column = 0; column < columns_; ++column)
      for (Eigen::Index row = 0; row < rows_; ++row) weighted(row, column) *= root_weights_[row];
    if (!weighted.allFinite()) return;
    factors_.emplace(weighted);
    if (factors_->full_rank()) covariance_ = factors_->inverse_gram();
  }

  linear_result solve(const Eigen::VectorXd& y) const {
    const Eigen::VectorXd target = root_weights_.cwiseProduct(y);
    if (!factors_ || !target.allFinite()) return detail::unusable_linear(linear_status::not_finite, rows_, columns_);
    linear_result result = detail::unusable_linear(linear_status::singular, rows_, columns_);
    result.rank = factors_->rank();
    result.condition = factors_->condition();
    if (!factors_->full_rank()) return result;
    Eigen::VectorXd residual;
    const Eigen::VectorXd parameters = factors_->solve(target, residual);
    const double chi2 = residual.squaredNorm();
    const bool finite = parameters.allFinite() && covariance_.allFinite() && std::isfinite(chi2);
    result.status = finite ? linear_status::solved : linear_status::not_finite;
    if (!finite) return result;
    result.parameters = parameters;
    result.covariance_unscaled = covariance_;
    result.residuals = residual.cwiseQuotient(root_weights_);
    result.chi2 = chi2;
    result.degrees_of_freedom = rows_ - columns_;
    return result;
  }

 private:
  Eigen::VectorXd root_weights_;
  Eigen::Index rows_;
  Eigen::Index columns_;
  std::optional<detail::scaled_qr> factors_;  ///< absent where the weighted design is not finite
  Eigen::MatrixXd covariance_;                ///< (X^T W X)^-1, at full rank
};

/// Weighted linear least squares: minimises sum of w_i (y_i - (X b)_i)^2.
///
/// Solved by column-scaled, pivoted Householder QR with iterative refinement. The normal equations are never
/// formed, since they square the condition: NIST's Filip set then has no correct digit left.
///
/// @param design   X, one row per reading and one column per parameter
/// @param y        readings
/// @param weights  w, each above 0, usually 1/u^2; a reading without weight must be left out by the caller,
///                 otherwise it would count as a degree of freedom
/// @return a result whose status says whether it holds numbers; infinite or NaN input gives not_finite
/// @throws base::error (precondition) on unequal lengths, no column, or a weight that is not above 0
/// Source: NIST Statistical Reference Datasets, linear regression (eleven sets in tests/oracle/fit).
inline linear_result fit_linear(const Eigen::MatrixXd& design, const Eigen::VectorXd& y,
                                const Eigen::VectorXd& weights) {
  base::expect(design.cols() > 0, "design", "no column", "at least one column");
  base::expect(design.rows() == y.size(), "y", std::to_string(y.size()) + " readings", "one per row of the design");
  base::expect(weights.size() == y.size(), "weights", std::to_string(weights.size()) + " weights", "one per reading");
  for (const double weight : weights) {
    // A NaN weight comes from a NaN uncertainty: bad data and not a wrong call, so the status reports it.
    base::expect(!(weight <= 0.0), "weights", weight, "a number above 0");
  }
  if (design.rows() < design.cols()) {
    return detail::unusable_linear(linear_status::too_few_points, design.rows(), design.cols());
  }
  return weighted_design(design, weights.cwiseSqrt()).solve(y);
}

/// Linear least squares with equal weights; see the weighted form.
inline linear_result fit_linear(const Eigen::MatrixXd& design, const Eigen::VectorXd& y) {
  return fit_linear(design, y, Eigen::VectorXd::Ones(y.size()));
}

}  // namespace rewound::fit
