// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>
#include <utility>

#include <Eigen/Core>

#include <rewound/base/compiled.hpp>
#include <rewound/fit/dense.hpp>

namespace rewound::fit {

namespace detail {

inline double sum_of_products(const double* a, const double* b, Eigen::Index count) {
  double sum = 0.0;
  for (Eigen::Index i = 0; i < count; ++i) sum += a[i] * b[i];
  return sum;
}

/// to += factor * from.
inline void add_scaled(double* to, double factor, const double* from, Eigen::Index count) {
  for (Eigen::Index i = 0; i < count; ++i) to[i] += factor * from[i];
}

}  // namespace detail

REWOUND_INLINE bool factorise(double* matrix, Eigen::Index n) {
  for (Eigen::Index column = 0; column < n; ++column) {
    double* own = matrix + column * n;
    for (Eigen::Index before = 0; before < column; ++before) {
      const double* other = matrix + before * n;
      detail::add_scaled(own + column, -other[column], other + column, n - column);
    }
    if (!(own[column] > 0.0)) return false;
    own[column] = std::sqrt(own[column]);
    for (Eigen::Index row = column + 1; row < n; ++row) own[row] /= own[column];
  }
  return true;
}

REWOUND_INLINE void solve_lower(const double* lower, Eigen::Index n, double* x) {
  for (Eigen::Index column = 0; column < n; ++column) {
    const double* own = lower + column * n;
    x[column] /= own[column];
    detail::add_scaled(x + column + 1, -x[column], own + column + 1, n - column - 1);
  }
}

REWOUND_INLINE void solve_lower_transposed(const double* lower, Eigen::Index n, double* x) {
  for (Eigen::Index column = n - 1; column >= 0; --column) {
    const double* own = lower + column * n;
    x[column] = (x[column] - detail::sum_of_products(own + column + 1, x + column + 1, n - column - 1)) / own[column];
  }
}

REWOUND_INLINE Eigen::MatrixXd product(const Eigen::MatrixXd& a, const Eigen::MatrixXd& b) {
  Eigen::MatrixXd out(a.rows(), b.cols());
  out.setZero();
  for (Eigen::Index column = 0; column < b.cols(); ++column)
    for (Eigen::Index k = 0; k < a.cols(); ++k)
      detail::add_scaled(out.data() + column * out.rows(), b(k, column), a.data() + k * a.rows(), a.rows());
  return out;
}

REWOUND_INLINE Eigen::MatrixXd transposed_product(const Eigen::MatrixXd& a, const Eigen::MatrixXd& b) {
  Eigen::MatrixXd out(a.cols(), b.cols());
  for (Eigen::Index column = 0; column < b.cols(); ++column)
    for (Eigen::Index row = 0; row < a.cols(); ++row)
      out(row, column) = detail::sum_of_products(a.data() + row * a.rows(), b.data() + column * b.rows(), a.rows());
  return out;
}

REWOUND_INLINE Eigen::MatrixXd transposed(const Eigen::MatrixXd& a) {
  Eigen::MatrixXd out(a.cols(), a.rows());
  for (Eigen::Index row = 0; row < a.rows(); ++row)
    for (Eigen::Index column = 0; column < a.cols(); ++column) out(column, row) = a(row, column);
  return out;
}

REWOUND_INLINE Eigen::VectorXd applied(const Eigen::MatrixXd& a, const Eigen::VectorXd& x) {
  Eigen::VectorXd out(a.rows());
  out.setZero();
  for (Eigen::Index k = 0; k < a.cols(); ++k)
    detail::add_scaled(out.data(), x[k], a.data() + k * a.rows(), a.rows());
  return out;
}

REWOUND_INLINE Eigen::VectorXd applied_transposed(const Eigen::MatrixXd& a, const Eigen::VectorXd& x) {
  Eigen::VectorXd out(a.cols());
  for (Eigen::Index k = 0; k < a.cols(); ++k)
    out[k] = detail::sum_of_products(a.data() + k * a.rows(), x.data(), a.rows());
  return out;
}

REWOUND_INLINE Eigen::MatrixXd carried(const Eigen::MatrixXd& a, const Eigen::MatrixXd& covariance) {
  return product(product(a, covariance), transposed(a));
}

REWOUND_INLINE double dot(const Eigen::VectorXd& a, const Eigen::VectorXd& b) {
  return detail::sum_of_products(a.data(), b.data(), a.size());
}

REWOUND_INLINE void add_outer(Eigen::MatrixXd& sum, double weight, const Eigen::VectorXd& a,
                              const Eigen::VectorXd& b) {
  for (Eigen::Index column = 0; column < sum.cols(); ++column)
    detail::add_scaled(sum.data() + column * sum.rows(), weight * b[column], a.data(), sum.rows());
}

REWOUND_INLINE Eigen::MatrixXd part(const Eigen::MatrixXd& of, Eigen::Index row, Eigen::Index column,
                                    Eigen::Index rows, Eigen::Index columns) {
  Eigen::MatrixXd out(rows, columns);
  for (Eigen::Index j = 0; j < columns; ++j)
    for (Eigen::Index i = 0; i < rows; ++i) out(i, j) = of(row + i, column + j);
  return out;
}

REWOUND_INLINE Eigen::VectorXd part(const Eigen::VectorXd& of, Eigen::Index first, Eigen::Index count) {
  Eigen::VectorXd out(count);
  for (Eigen::Index i = 0; i < count; ++i) out[i] = of[first + i];
  return out;
}

REWOUND_INLINE cholesky_factor::cholesky_factor(Eigen::MatrixXd symmetric)
    : lower_(std::move(symmetric)), positive_(factorise(lower_.data(), lower_.rows())) {
  for (Eigen::Index column = 1; column < lower_.cols(); ++column)
    for (Eigen::Index row = 0; row < column; ++row) lower_(row, column) = 0.0;
}

REWOUND_INLINE double cholesky_factor::log_determinant_of_root() const {
  double sum = 0.0;
  for (Eigen::Index i = 0; i < lower_.rows(); ++i) sum += std::log(lower_(i, i));
  return sum;
}

REWOUND_INLINE Eigen::VectorXd cholesky_factor::solve(Eigen::VectorXd x) const {
  solve_lower(lower_.data(), lower_.rows(), x.data());
  solve_lower_transposed(lower_.data(), lower_.rows(), x.data());
  return x;
}

REWOUND_INLINE Eigen::MatrixXd cholesky_factor::solve_columns(Eigen::MatrixXd columns) const {
  columns = whitened_columns(std::move(columns));
  for (Eigen::Index k = 0; k < columns.cols(); ++k)
    solve_lower_transposed(lower_.data(), lower_.rows(), columns.data() + k * columns.rows());
  return columns;
}

REWOUND_INLINE Eigen::MatrixXd cholesky_factor::inverse() const {
  Eigen::MatrixXd unit(lower_.rows(), lower_.rows());
  unit.setZero();
  for (Eigen::Index i = 0; i < unit.rows(); ++i) unit(i, i) = 1.0;
  return solve_columns(std::move(unit));
}

REWOUND_INLINE Eigen::VectorXd cholesky_factor::whitened(Eigen::VectorXd x) const {
  solve_lower(lower_.data(), lower_.rows(), x.data());
  return x;
}

REWOUND_INLINE Eigen::MatrixXd cholesky_factor::whitened_columns(Eigen::MatrixXd columns) const {
  for (Eigen::Index k = 0; k < columns.cols(); ++k)
    solve_lower(lower_.data(), lower_.rows(), columns.data() + k * columns.rows());
  return columns;
}

}  // namespace rewound::fit
