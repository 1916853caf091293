// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cmath>
#include <limits>
#include <numeric>
#include <vector>

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

/// Makes columns p and q of `work` orthogonal; false when they were so already, to rounding.
inline bool orthogonalise(Eigen::MatrixXd& work, Eigen::MatrixXd& rotations, Eigen::Index p, Eigen::Index q) {
  double square_p = 0.0;
  double square_q = 0.0;
  double product = 0.0;
  for (Eigen::Index row = 0; row < work.rows(); ++row) {
    square_p += work(row, p) * work(row, p);
    square_q += work(row, q) * work(row, q);
    product += work(row, p) * work(row, q);
  }
  const double negligible = std::numeric_limits<double>::epsilon() * std::sqrt(square_p) * std::sqrt(square_q);
  // Written so that a NaN ends the sweeps.
  if (!(std::abs(product) > negligible)) return false;
  const double cotangent = (square_q - square_p) / (2.0 * product);  // of twice the angle
  const double tangent = std::copysign(1.0, cotangent) / (std::abs(cotangent) + std::hypot(1.0, cotangent));
  const double cosine = 1.0 / std::hypot(1.0, tangent);
  rotate_columns(work, p, q, cosine, cosine * tangent);
  rotate_columns(rotations, p, q, cosine, cosine * tangent);
  return true;
}

/// One-sided Jacobi on the columns of the transpose, which for the triangle of a pivoted QR converges in a few sweeps
/// and leaves the left vectors as a product of rotations, complete at any rank.
///
/// Eigen's JacobiSVD does the same but was measured to cost ten seconds of compile time per translation unit.
/// Source: Golub, Van Loan, "Matrix Computations", 4th ed., section 8.6.3 (one-sided Jacobi); Drmac, Veselic, SIAM J.
/// Matrix Anal. Appl. 29 (2008) 1322-1342 (on the transposed triangle).
inline small_svd decompose(const Eigen::MatrixXd& triangle) {
  const Eigen::Index size = triangle.cols();
  Eigen::MatrixXd work = triangle.transpose();
  Eigen::MatrixXd rotations = Eigen::MatrixXd::Identity(size, size);
  constexpr int most_sweeps = 40;
  bool turned = true;
  for (int sweep = 0; turned && sweep < most_sweeps; ++sweep) {
    turned = false;
    for (Eigen::Index p = 0; p + 1 < size; ++p) {
      for (Eigen::Index q = p + 1; q < size; ++q) turned = orthogonalise(work, rotations, p, q) || turned;
    }
  }
  std::vector<double> length(static_cast<std::size_t>(size));
  for (Eigen::Index k = 0; k < size; ++k) length[static_cast<std::size_t>(k)] = work.col(k).norm();
  std::vector<std::size_t> order(length.size());
  std::iota(order.begin(), order.end(), std::size_t{0});
  std::stable_sort(order.begin(), order.end(), [&](std::size_t a, std::size_t b) { return length[a] > length[b]; });
  small_svd result{Eigen::VectorXd(size), Eigen::MatrixXd(size, size), Eigen::MatrixXd::Zero(size, size)};
  for (Eigen::Index k = 0; k < size; ++k) {
    const std::size_t from = order[static_cast<std::size_t>(k)];
    result.singular[k] = length[from];
    for (Eigen::Index row = 0; row < size; ++row) {
      result.left(row, k) = rotations(row, static_cast<Eigen::Index>(from));
      if (length[from] > 0.0) result.right(row, k) = work(row, static_cast<Eigen::Index>(from)) / length[from];
    }
  }
  return result;
}

}  // namespace rewound::fit::detail
