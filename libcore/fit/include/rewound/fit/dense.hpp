// SPDX-License-Identifier: MIT
#pragma once

#include <vector>

#include <Eigen/Core>

namespace rewound::fit {

// Products and Cholesky factors of the small dense matrices of fits and checks, in plain loops compiled once: Eigen's
// own expressions gain little at these sizes, and cost two thirds of what a file that includes all floors takes to
// compile.

/// a b.
Eigen::MatrixXd product(const Eigen::MatrixXd& a, const Eigen::MatrixXd& b);

/// a^T b.
Eigen::MatrixXd transposed_product(const Eigen::MatrixXd& a, const Eigen::MatrixXd& b);

/// a^T.
Eigen::MatrixXd transposed(const Eigen::MatrixXd& a);

/// a x.
Eigen::VectorXd applied(const Eigen::MatrixXd& a, const Eigen::VectorXd& x);

/// a^T x.
Eigen::VectorXd applied_transposed(const Eigen::MatrixXd& a, const Eigen::VectorXd& x);

/// Covariance of a y where y has the covariance given: a covariance a^T.
Eigen::MatrixXd carried(const Eigen::MatrixXd& a, const Eigen::MatrixXd& covariance);

double dot(const Eigen::VectorXd& a, const Eigen::VectorXd& b);

/// sum += weight a b^T.
void add_outer(Eigen::MatrixXd& sum, double weight, const Eigen::VectorXd& a, const Eigen::VectorXd& b);

/// A part of a matrix.
Eigen::MatrixXd part(const Eigen::MatrixXd& of, Eigen::Index row, Eigen::Index column, Eigen::Index rows,
                     Eigen::Index columns);

/// Writes a part of a matrix.
void put_part(Eigen::MatrixXd& into, Eigen::Index row, Eigen::Index column, const Eigen::MatrixXd& part);

Eigen::VectorXd row_of(const Eigen::MatrixXd& of, Eigen::Index row);
void put_row(Eigen::MatrixXd& into, Eigen::Index row, const Eigen::VectorXd& values);

/// Some rows and the same columns: of a covariance, that of some of its numbers.
Eigen::MatrixXd principal_part(const Eigen::MatrixXd& of, const std::vector<Eigen::Index>& which);

/// A part of a vector.
Eigen::VectorXd part(const Eigen::VectorXd& of, Eigen::Index first, Eigen::Index count);

/// L with L L^T = matrix, lower triangular.
///
/// Source: Golub, Van Loan, "Matrix Computations", 4th ed., section 4.2.5 (outer products, by columns).
class cholesky_factor {
 public:
  cholesky_factor() = default;

  /// @param symmetric  of which the lower half is read
  /// @throws base::error (precondition) where it is not square
  explicit cholesky_factor(Eigen::MatrixXd symmetric);

  /// Nothing else holds where this does not.
  bool is_positive_definite() const { return positive_; }

  const Eigen::MatrixXd& lower() const { return lower_; }

  /// ln determinant of L, half of that of the matrix.
  double log_determinant_of_root() const;

  /// matrix^-1 x.
  Eigen::VectorXd solve(Eigen::VectorXd x) const;
  Eigen::MatrixXd solve_columns(Eigen::MatrixXd columns) const;
  Eigen::MatrixXd inverse() const;

  /// L^-1 x: what has the matrix for its covariance, in coordinates in which that is the unit matrix.
  Eigen::VectorXd whitened(Eigen::VectorXd x) const;
  Eigen::MatrixXd whitened_columns(Eigen::MatrixXd columns) const;

 private:
  Eigen::MatrixXd lower_;
  bool positive_ = false;
};

/// For loops that keep their matrices in memory of their own: the factor of an n by n matrix by columns, in place. The
/// upper half is left as it was.
/// @return whether the matrix is positive definite
bool factorise(double* matrix, Eigen::Index n);

/// L^-1 x and L^-T x in place, of an n by n factor by columns.
void solve_lower(const double* lower, Eigen::Index n, double* x);
void solve_lower_transposed(const double* lower, Eigen::Index n, double* x);

}  // namespace rewound::fit

#ifndef REWOUND_COMPILED
#include <rewound/fit/impl/dense.hpp>
#endif
