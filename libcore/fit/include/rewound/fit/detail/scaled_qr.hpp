// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cmath>
#include <limits>

#include <Eigen/Core>
#include <Eigen/QR>
#include <Eigen/SVD>

#include <rewound/fit/detail/compensated.hpp>

namespace rewound::fit::detail {

/// Householder QR with column pivoting of a matrix whose columns were first brought to comparable length.
///
/// Columns are scaled by powers of two: the scaling itself then rounds nothing, and the rank and the condition
/// do not depend on the units the user chose. Needs rows >= columns >= 1 and finite entries.
/// Source: Golub, Van Loan, "Matrix Computations", 4th ed., sections 5.3.7 (scaling) and 5.4.2 (pivoting).
class scaled_qr {
 public:
  explicit scaled_qr(const Eigen::MatrixXd& matrix)
      : scale_(column_scale(matrix)), scaled_(matrix * scale_.asDiagonal()) {
    qr_.compute(scaled_);
    const Eigen::VectorXd singular = Eigen::JacobiSVD<Eigen::MatrixXd>(upper()).singularValues();
    const double largest = singular[0];
    const double smallest = singular[singular.size() - 1];
    const double longest_side = static_cast<double>(std::max(matrix.rows(), matrix.cols()));
    const double noise = largest * longest_side * std::numeric_limits<double>::epsilon();
    rank_ = (singular.array() > noise).count();
    condition_ = smallest > 0.0 ? largest / smallest : std::numeric_limits<double>::infinity();
  }

  Eigen::Index rank() const { return rank_; }
  bool full_rank() const { return rank_ == scaled_.cols(); }

  /// Ratio of the largest to the smallest singular value of the scaled matrix; infinite when one is zero.
  double condition() const { return condition_; }

  /// (M^T M)^-1 of the unscaled matrix, from the inverse of the triangle and never from M^T M itself.
  /// Only meaningful at full rank.
  Eigen::MatrixXd inverse_gram() const {
    const Eigen::Index columns = scaled_.cols();
    Eigen::MatrixXd root = Eigen::MatrixXd::Identity(columns, columns);
    upper().triangularView<Eigen::Upper>().solveInPlace(root);
    const Eigen::MatrixXd unpivoted = scale_.asDiagonal() * (qr_.colsPermutation() * root);
    return unpivoted * unpivoted.transpose();
  }

  /// Least-squares solution of matrix * x = target with refinement; `residual` returns target - matrix * x.
  ///
  /// Refines the augmented system, because refining x alone stops helping as soon as the residual is not
  /// small. A correction that does not shrink is discarded: rounding has been reached.
  /// Source: Bjorck, "Numerical Methods for Least Squares Problems" (1996), section 2.9.2.
  Eigen::VectorXd solve(const Eigen::VectorXd& target, Eigen::VectorXd& residual) const {
    Eigen::VectorXd solution = correction(target, Eigen::VectorXd::Zero(scaled_.cols())).solution;
    residual = residual_of(scaled_, solution, target, Eigen::VectorXd::Zero(target.size()));
    constexpr int most_steps = 4;
    double previous = solution.norm();
    for (int step = 0; step < most_steps; ++step) {
      const pair change = correction(residual_of(scaled_, solution, target, residual),
                                     -transposed_product(scaled_, residual));
      const double size = change.solution.norm();
      if (!(size < 0.5 * previous)) break;
      solution += change.solution;
      residual += change.residual;
      previous = size;
    }
    return scale_.asDiagonal() * solution;
  }

 private:
  struct pair {
    Eigen::VectorXd solution;
    Eigen::VectorXd residual;
  };

  static Eigen::VectorXd column_scale(const Eigen::MatrixXd& matrix) {
    Eigen::VectorXd scale = Eigen::VectorXd::Ones(matrix.cols());
    for (Eigen::Index column = 0; column < matrix.cols(); ++column) {
      const double length = matrix.col(column).stableNorm();
      // Below the normal range the reciprocal would overflow; such a column counts as zero.
      if (std::isnormal(length)) scale[column] = std::ldexp(1.0, -std::ilogb(length));
    }
    return scale;
  }

  Eigen::MatrixXd upper() const {
    const Eigen::Index columns = scaled_.cols();
    return qr_.matrixR().topLeftCorner(columns, columns).triangularView<Eigen::Upper>();
  }

  /// Solves residual + M solution = f, M^T residual = g.
  pair correction(const Eigen::VectorXd& f, const Eigen::VectorXd& g) const {
    const Eigen::Index columns = scaled_.cols();
    const Eigen::MatrixXd triangle = upper();
    const Eigen::VectorXd pivoted_g = qr_.colsPermutation().transpose() * g;
    const Eigen::VectorXd head = triangle.transpose().triangularView<Eigen::Lower>().solve(pivoted_g);
    Eigen::VectorXd rotated = qr_.householderQ().transpose() * f;
    const Eigen::VectorXd right_side = rotated.head(columns) - head;
    const Eigen::VectorXd pivoted = triangle.triangularView<Eigen::Upper>().solve(right_side);
    rotated.head(columns) = head;
    return {qr_.colsPermutation() * pivoted, qr_.householderQ() * rotated};
  }

  Eigen::VectorXd scale_;
  Eigen::MatrixXd scaled_;
  Eigen::ColPivHouseholderQR<Eigen::MatrixXd> qr_;
  Eigen::Index rank_ = 0;
  double condition_ = std::numeric_limits<double>::infinity();
};

}  // namespace rewound::fit::detail
