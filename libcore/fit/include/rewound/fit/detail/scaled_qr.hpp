// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cmath>
#include <limits>

#include <Eigen/Core>

#include <rewound/fit/detail/compensated.hpp>
#include <rewound/fit/detail/pivoted_qr.hpp>
#include <rewound/fit/detail/small_svd.hpp>

namespace rewound::fit::detail {

/// Householder QR with column pivoting of a matrix whose columns were first brought to comparable length.
///
/// Columns are scaled by powers of two: the scaling itself then rounds nothing, and the rank and the condition
/// do not depend on the units the user chose. Needs rows >= columns >= 1 and finite entries.
/// Source: Golub, Van Loan, "Matrix Computations", 4th ed., sections 5.3.7 (scaling) and 5.4.2 (pivoting).
class scaled_qr {
 public:
  explicit scaled_qr(const Eigen::MatrixXd& matrix)
      : scale_(column_scale(matrix)), scaled_(with_scaled_columns(matrix, scale_)), qr_(scaled_) {
    const Eigen::VectorXd singular = decompose(qr_.triangle()).singular;
    const double largest = singular[0];
    const double smallest = singular[singular.size() - 1];
    const double longest_side = static_cast<double>(std::max(matrix.rows(), matrix.cols()));
    const double noise = largest * longest_side * std::numeric_limits<double>::epsilon();
    for (const double value : singular) rank_ += value > noise ? 1 : 0;
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
    Eigen::MatrixXd root(columns, columns);  // P R^-1, scaled back
    for (Eigen::Index column = 0; column < columns; ++column) {
      Eigen::VectorXd unit = Eigen::VectorXd::Zero(columns);
      unit[column] = 1.0;
      qr_.solve_triangle(unit);
      for (Eigen::Index k = 0; k < columns; ++k) {
        const Eigen::Index row = qr_.original(k);
        root(row, column) = scale_[row] * unit[k];
      }
    }
    Eigen::MatrixXd gram(columns, columns);
    for (Eigen::Index row = 0; row < columns; ++row) {
      for (Eigen::Index column = 0; column <= row; ++column) {
        double sum = 0.0;
        for (Eigen::Index k = 0; k < columns; ++k) sum += root(row, k) * root(column, k);
        gram(row, column) = gram(column, row) = sum;
      }
    }
    return gram;
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
                                     -compensated_transposed_product(scaled_, residual));
      const double size = change.solution.norm();
      if (!(size < 0.5 * previous)) break;
      solution += change.solution;
      residual += change.residual;
      previous = size;
    }
    return scale_.cwiseProduct(solution);
  }

 private:
  struct pair {
    Eigen::VectorXd solution;
    Eigen::VectorXd residual;
  };

  static Eigen::VectorXd column_scale(const Eigen::MatrixXd& matrix) {
    Eigen::VectorXd scale = Eigen::VectorXd::Ones(matrix.cols());
    for (Eigen::Index column = 0; column < matrix.cols(); ++column) {
      const double length = column_length(matrix, column);
      // Below the normal range the reciprocal would overflow; such a column counts as zero.
      if (std::isnormal(length)) scale[column] = std::ldexp(1.0, -std::ilogb(length));
    }
    return scale;
  }

  /// Solves residual + M solution = f, M^T residual = g.
  pair correction(const Eigen::VectorXd& f, const Eigen::VectorXd& g) const {
    const Eigen::Index columns = scaled_.cols();
    Eigen::VectorXd head(columns);
    for (Eigen::Index k = 0; k < columns; ++k) head[k] = g[qr_.original(k)];
    qr_.solve_transposed_triangle(head);
    pair result{Eigen::VectorXd(columns), f};
    qr_.rotate(result.residual);
    Eigen::VectorXd pivoted(columns);
    for (Eigen::Index k = 0; k < columns; ++k) {
      pivoted[k] = result.residual[k] - head[k];
      result.residual[k] = head[k];
    }
    qr_.solve_triangle(pivoted);
    for (Eigen::Index k = 0; k < columns; ++k) result.solution[qr_.original(k)] = pivoted[k];
    qr_.rotate_back(result.residual);
    return result;
  }

  Eigen::VectorXd scale_;
  Eigen::MatrixXd scaled_;
  pivoted_qr qr_;
  Eigen::Index rank_ = 0;
  double condition_ = std::numeric_limits<double>::infinity();
};

}  // namespace rewound::fit::detail
