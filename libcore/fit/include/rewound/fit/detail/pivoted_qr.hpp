// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>
#include <cstddef>
#include <limits>
#include <utility>
#include <vector>

#include <Eigen/Core>

#include <rewound/fit/detail/compensated.hpp>

namespace rewound::fit::detail {

/// Length of a vector, without overflow or underflow of the squares.
inline double length_of(const double* values, Eigen::Index count) {
  double largest = 0.0;
  for (Eigen::Index i = 0; i < count; ++i) {
    const double size = std::abs(values[i]);
    if (!(size <= largest)) largest = size;  // a NaN is kept, and spoils the sum below
  }
  if (!(largest > 0.0) || !std::isfinite(largest)) return largest;
  double sum = 0.0;
  for (Eigen::Index i = 0; i < count; ++i) {
    const double share = values[i] / largest;
    sum += share * share;
  }
  return largest * std::sqrt(sum);
}

inline double column_length(const Eigen::MatrixXd& matrix, Eigen::Index column) {
  return length_of(matrix.data() + column * matrix.rows(), matrix.rows());
}

/// matrix * diag(scale).
inline Eigen::MatrixXd with_scaled_columns(Eigen::MatrixXd matrix, const Eigen::VectorXd& scale) {
  for (Eigen::Index column = 0; column < matrix.cols(); ++column) {
    for (Eigen::Index row = 0; row < matrix.rows(); ++row) matrix(row, column) *= scale[column];
  }
  return matrix;
}

/// Householder QR with column pivoting, M P = Q R, for columns that are not longer than a few units.
///
/// Plain loops instead of Eigen's ColPivHouseholderQR, whose templates were measured to cost two seconds of
/// compile time per translation unit and gain nothing at the few columns of a fit. Remaining lengths are computed
/// afresh at each step and not updated, so that cancellation never misleads the pivoting; sums are
/// compensated, so that the factors do not lose digits as readings get many.
/// Source: Golub, Van Loan, "Matrix Computations", 4th ed., sections 5.1 (reflections) and 5.4.2 (pivoting).
class pivoted_qr {
 public:
  /// Needs rows >= columns.
  explicit pivoted_qr(Eigen::MatrixXd matrix) : packed_(std::move(matrix)), weight_(packed_.cols()) {
    for (Eigen::Index k = 0; k < packed_.cols(); ++k) order_.push_back(k);
    for (Eigen::Index k = 0; k < packed_.cols(); ++k) {
      bring_longest_to(k);
      reflect_column(k);
    }
  }

  Eigen::MatrixXd triangle() const {
    const Eigen::Index size = packed_.cols();
    Eigen::MatrixXd result = Eigen::MatrixXd::Zero(size, size);
    for (Eigen::Index column = 0; column < size; ++column) {
      for (Eigen::Index row = 0; row <= column; ++row) result(row, column) = packed_(row, column);
    }
    return result;
  }

  /// Where column k of M P stood in M.
  Eigen::Index original(Eigen::Index k) const { return order_[static_cast<std::size_t>(k)]; }

  /// transpose(Q) * vector, in place.
  void rotate(Eigen::VectorXd& vector) const {
    for (Eigen::Index k = 0; k < packed_.cols(); ++k) reflect(k, vector);
  }

  /// Q * vector, in place.
  void rotate_back(Eigen::VectorXd& vector) const {
    for (Eigen::Index k = packed_.cols() - 1; k >= 0; --k) reflect(k, vector);
  }

  /// Solves R x = b in place, for the first columns() elements of the vector.
  void solve_triangle(Eigen::VectorXd& vector) const {
    for (Eigen::Index row = packed_.cols() - 1; row >= 0; --row) {
      for (Eigen::Index k = row + 1; k < packed_.cols(); ++k) vector[row] -= packed_(row, k) * vector[k];
      vector[row] /= packed_(row, row);
    }
  }

  /// Solves transpose(R) x = b in place.
  void solve_transposed_triangle(Eigen::VectorXd& vector) const {
    for (Eigen::Index row = 0; row < packed_.cols(); ++row) {
      for (Eigen::Index k = 0; k < row; ++k) vector[row] -= packed_(k, row) * vector[k];
      vector[row] /= packed_(row, row);
    }
  }

 private:
  double square_below(Eigen::Index first, Eigen::Index column) const {
    compensated_sum sum;
    for (Eigen::Index row = first; row < packed_.rows(); ++row) {
      sum.add_product(packed_(row, column), packed_(row, column));
    }
    return sum.value();
  }

  void bring_longest_to(Eigen::Index k) {
    Eigen::Index longest = k;
    double square = square_below(k, k);
    for (Eigen::Index column = k + 1; column < packed_.cols(); ++column) {
      const double other = square_below(k, column);
      if (!(other > square)) continue;
      square = other;
      longest = column;
    }
    if (longest == k) return;
    for (Eigen::Index row = 0; row < packed_.rows(); ++row) std::swap(packed_(row, k), packed_(row, longest));
    std::swap(order_[static_cast<std::size_t>(k)], order_[static_cast<std::size_t>(longest)]);
  }

  /// The reflection 1 - weight v v^T that clears column k below the diagonal; v starts with 1 and its other
  /// elements take the place of the cleared ones.
  void reflect_column(Eigen::Index k) {
    const double head = packed_(k, k);
    const double below = square_below(k + 1, k);
    weight_[k] = 0.0;
    if (below <= std::numeric_limits<double>::min()) {
      for (Eigen::Index row = k + 1; row < packed_.rows(); ++row) packed_(row, k) = 0.0;
      return;
    }
    const double diagonal = -std::copysign(std::sqrt(head * head + below), head);
    for (Eigen::Index row = k + 1; row < packed_.rows(); ++row) packed_(row, k) /= head - diagonal;
    packed_(k, k) = diagonal;
    weight_[k] = (diagonal - head) / diagonal;
    for (Eigen::Index column = k + 1; column < packed_.cols(); ++column) reflect(k, &packed_(0, column));
  }

  void reflect(Eigen::Index k, Eigen::VectorXd& vector) const { reflect(k, vector.data()); }

  void reflect(Eigen::Index k, double* vector) const {
    compensated_sum sum;
    sum.add(vector[k]);
    for (Eigen::Index row = k + 1; row < packed_.rows(); ++row) sum.add_product(packed_(row, k), vector[row]);
    const double along = weight_[k] * sum.value();
    vector[k] -= along;
    for (Eigen::Index row = k + 1; row < packed_.rows(); ++row) vector[row] -= along * packed_(row, k);
  }

  Eigen::MatrixXd packed_;  ///< R on and above the diagonal, the reflections below
  Eigen::VectorXd weight_;
  std::vector<Eigen::Index> order_;
};

}  // namespace rewound::fit::detail
