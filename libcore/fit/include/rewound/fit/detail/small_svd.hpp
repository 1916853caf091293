// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>
#include <limits>
#include <utility>

#include <Eigen/Core>

namespace rewound::fit::detail {

/// Singular value decomposition R = left * diag(singular) * transpose(right) of a small square matrix.
struct small_svd {
  Eigen::VectorXd singular;  ///< falling
  Eigen::MatrixXd left;      ///< orthogonal, also where singular values are zero
  Eigen::MatrixXd right;     ///< column k is zero where singular value k is zero
};

/// Turns columns p and q of a matrix into each other by a plane rotation.
inline void rotate_columns(Eigen::MatrixXd& matrix, Eigen::Index p, Eigen::Index q, double cosine, double sine) {
  for (Eigen::Index row = 0; row < matrix.rows(); ++row) {
    const double from_p = matrix(row, p);
    const double from_q = matrix(row, q);
    matrix(row, p) = cosine * from_p - sine * from_q;
    matrix(row, q) = sine * from_p + cosine * from_q;
  }
}

inline double column_product(const Eigen::MatrixXd& matrix, Eigen::Index p, Eigen::Index q) {
  double sum = 0.0;
  for (Eigen::Index row = 0; row < matrix.rows(); ++row) sum += matrix(row, p) * matrix(row, q);
  return sum;
}

/// Makes columns p and q of `work` orthogonal; false when they were so already, to rounding.
inline bool orthogonalise(Eigen::MatrixXd& work, Eigen::MatrixXd& rotations, Eigen::Index p, Eigen::Index q) {
  const double square_p = column_product(work, p, p);
  const double square_q = column_product(work, q, q);
  const double product = column_product(work, p, q);
  const double rounding = static_cast<double>(work.rows()) * std::numeric_limits<double>::epsilon();
  // Written so that a NaN ends the sweeps.
  if (!(std::abs(product) > rounding * std::sqrt(square_p) * std::sqrt(square_q))) return false;
  const double cotangent = (square_q - square_p) / (2.0 * product);  // of twice the angle
  const double tangent = std::copysign(1.0, cotangent) / (std::abs(cotangent) + std::hypot(1.0, cotangent));
  const double cosine = 1.0 / std::hypot(1.0, tangent);
  rotate_columns(work, p, q, cosine, cosine * tangent);
  rotate_columns(rotations, p, q, cosine, cosine * tangent);
  return true;
}

/// Reads the decomposition off orthogonal columns, longest first.
inline small_svd sorted_columns(Eigen::MatrixXd& work, Eigen::MatrixXd& rotations) {
  const Eigen::Index size = work.cols();
  Eigen::VectorXd length(size);
  for (Eigen::Index k = 0; k < size; ++k) length[k] = std::sqrt(column_product(work, k, k));
  for (Eigen::Index k = 0; k < size; ++k) {
    Eigen::Index longest = k;
    for (Eigen::Index other = k + 1; other < size; ++other) {
      if (length[other] > length[longest]) longest = other;
    }
    std::swap(length[k], length[longest]);
    for (Eigen::Index row = 0; row < size; ++row) {
      std::swap(work(row, k), work(row, longest));
      std::swap(rotations(row, k), rotations(row, longest));
      work(row, k) = length[k] > 0.0 ? work(row, k) / length[k] : 0.0;
    }
  }
  return {length, rotations, work};
}

/// One-sided Jacobi on the columns of the transpose: for the triangle of a pivoted QR it then converges in a few
/// sweeps, and the left vectors are a product of rotations and so complete at any rank.
///
/// Eigen's JacobiSVD serves as well but was measured to cost ten seconds of compile time per translation unit.
/// Source: Golub, Van Loan, "Matrix Computations", 4th ed., section 8.6.3 (one-sided Jacobi); Drmac, Veselic,
/// "New fast and accurate Jacobi SVD algorithm", SIAM J. Matrix Anal. Appl. 29 (2008) 1322-1342 (transposing).
inline small_svd decompose(const Eigen::MatrixXd& triangle) {
  const Eigen::Index size = triangle.cols();
  Eigen::MatrixXd work(size, size);
  Eigen::MatrixXd rotations(size, size);
  for (Eigen::Index row = 0; row < size; ++row) {
    for (Eigen::Index column = 0; column < size; ++column) {
      work(row, column) = triangle(column, row);
      rotations(row, column) = row == column ? 1.0 : 0.0;
    }
  }
  constexpr int most_sweeps = 40;  // about six are usual
  bool turned = true;
  for (int sweep = 0; turned && sweep < most_sweeps; ++sweep) {
    turned = false;
    for (Eigen::Index p = 0; p + 1 < size; ++p) {
      for (Eigen::Index q = p + 1; q < size; ++q) turned = orthogonalise(work, rotations, p, q) || turned;
    }
  }
  return sorted_columns(work, rotations);
}

}  // namespace rewound::fit::detail
