// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>
#include <cstring>
#include <utility>
#include <vector>

#include <Eigen/Core>

#include <rewound/base/compiled.hpp>
#include <rewound/base/expect.hpp>
#include <rewound/fit/dense.hpp>

namespace rewound::fit {

namespace detail {

/// Two numbers in a register of the oldest machines.
using two = double __attribute__((vector_size(16)));

inline two two_at(const double* place) {
  two out;
  std::memcpy(&out, place, sizeof out);
  return out;
}

inline void put_two(double* place, two numbers) { std::memcpy(place, &numbers, sizeof numbers); }

inline double sum_of_products(const double* a, const double* b, Eigen::Index count) {
  two even{}, odd{};
  Eigen::Index i = 0;
  for (; i + 3 < count; i += 4) {
    even += two_at(a + i) * two_at(b + i);
    odd += two_at(a + i + 2) * two_at(b + i + 2);
  }
  even += odd;
  double sum = even[0] + even[1];
  for (; i < count; ++i) sum += a[i] * b[i];
  return sum;
}

/// to += factor * from.
inline void add_scaled(double* to, double factor, const double* from, Eigen::Index count) {
  Eigen::Index i = 0;
  for (; i + 1 < count; i += 2) put_two(to + i, two_at(to + i) + factor * two_at(from + i));
  if (i < count) to[i] += factor * from[i];
}

/// Columns of a matrix of which some rows are looked at.
struct column_run {
  const double* first;  ///< element of the first column
  Eigen::Index apart;   ///< from a column to the next
};

/// to += factors[0] * column 0 + factors[step] * column 1 + ..., one after the other.
inline void add_columns(double* to, Eigen::Index rows, column_run from, Eigen::Index columns, const double* factors,
                        Eigen::Index step, double sign) {
  Eigen::Index k = 0;
  for (; k + 3 < columns; k += 4) {
    const double* a = from.first + k * from.apart;
    const double* b = a + from.apart;
    const double* c = b + from.apart;
    const double* d = c + from.apart;
    const double* factor = factors + k * step;
    const double fa = sign * factor[0], fb = sign * factor[step];
    const double fc = sign * factor[2 * step], fd = sign * factor[3 * step];
    Eigen::Index i = 0;
    for (; i + 1 < rows; i += 2) {
      two sum = two_at(to + i);
      sum += fa * two_at(a + i);
      sum += fb * two_at(b + i);
      sum += fc * two_at(c + i);
      sum += fd * two_at(d + i);
      put_two(to + i, sum);
    }
    if (i < rows) to[i] = (((to[i] + fa * a[i]) + fb * b[i]) + fc * c[i]) + fd * d[i];
  }
  for (; k < columns; ++k) add_scaled(to, sign * factors[k * step], from.first + k * from.apart, rows);
}

}  // namespace detail

REWOUND_INLINE bool factorise(double* matrix, Eigen::Index n) {
  for (Eigen::Index column = 0; column < n; ++column) {
    double* own = matrix + column * n;
    detail::add_columns(own + column, n - column, {matrix + column, n}, column, matrix + column, n, -1.0);
    if (!(own[column] > 0.0)) return false;
    own[column] = std::sqrt(own[column]);
    for (Eigen::Index row = column + 1; row < n; ++row) own[row] /= own[column];
  }
  return true;
}

REWOUND_INLINE void solve_lower(const double* lower, Eigen::Index n, double* x) {
  constexpr Eigen::Index at_once = 4;
  for (Eigen::Index first = 0; first < n; first += at_once) {
    const Eigen::Index end = first + at_once < n ? first + at_once : n;
    for (Eigen::Index column = first; column < end; ++column) {
      x[column] /= lower[column * n + column];
      for (Eigen::Index row = column + 1; row < end; ++row) x[row] -= x[column] * lower[column * n + row];
    }
    detail::add_columns(x + end, n - end, {lower + first * n + end, n}, end - first, x + first, 1, -1.0);
  }
}

REWOUND_INLINE void solve_lower_transposed(const double* lower, Eigen::Index n, double* x) {
  for (Eigen::Index column = n - 1; column >= 0; --column) {
    const double* own = lower + column * n;
    x[column] = (x[column] - detail::sum_of_products(own + column + 1, x + column + 1, n - column - 1)) / own[column];
  }
}

REWOUND_INLINE Eigen::MatrixXd product(const Eigen::MatrixXd& a, const Eigen::MatrixXd& b) {
  eigen_assert(a.cols() == b.rows());
  Eigen::MatrixXd out(a.rows(), b.cols());
  out.setZero();
  for (Eigen::Index column = 0; column < b.cols(); ++column)
    detail::add_columns(out.data() + column * out.rows(), out.rows(), {a.data(), a.rows()}, a.cols(),
                        b.data() + column * b.rows(), 1, 1.0);
  return out;
}

REWOUND_INLINE Eigen::MatrixXd transposed_product(const Eigen::MatrixXd& a, const Eigen::MatrixXd& b) {
  eigen_assert(a.rows() == b.rows());
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
  eigen_assert(a.cols() == x.size());
  Eigen::VectorXd out(a.rows());
  out.setZero();
  detail::add_columns(out.data(), out.rows(), {a.data(), a.rows()}, a.cols(), x.data(), 1, 1.0);
  return out;
}

REWOUND_INLINE Eigen::VectorXd applied_transposed(const Eigen::MatrixXd& a, const Eigen::VectorXd& x) {
  eigen_assert(a.rows() == x.size());
  Eigen::VectorXd out(a.cols());
  for (Eigen::Index k = 0; k < a.cols(); ++k)
    out[k] = detail::sum_of_products(a.data() + k * a.rows(), x.data(), a.rows());
  return out;
}

REWOUND_INLINE Eigen::MatrixXd carried(const Eigen::MatrixXd& a, const Eigen::MatrixXd& covariance) {
  return product(product(a, covariance), transposed(a));
}

REWOUND_INLINE double dot(const Eigen::VectorXd& a, const Eigen::VectorXd& b) {
  eigen_assert(a.size() == b.size());
  return detail::sum_of_products(a.data(), b.data(), a.size());
}

REWOUND_INLINE void add_outer(Eigen::MatrixXd& sum, double weight, const Eigen::VectorXd& a, const Eigen::VectorXd& b) {
  eigen_assert(sum.rows() == a.size() && sum.cols() == b.size());
  for (Eigen::Index column = 0; column < sum.cols(); ++column)
    detail::add_scaled(sum.data() + column * sum.rows(), weight * b[column], a.data(), sum.rows());
}

REWOUND_INLINE Eigen::MatrixXd part(const Eigen::MatrixXd& of, Eigen::Index row, Eigen::Index column, Eigen::Index rows,
                                    Eigen::Index columns) {
  eigen_assert(row + rows <= of.rows() && column + columns <= of.cols());
  Eigen::MatrixXd out(rows, columns);
  for (Eigen::Index j = 0; j < columns; ++j)
    for (Eigen::Index i = 0; i < rows; ++i) out(i, j) = of(row + i, column + j);
  return out;
}

REWOUND_INLINE void put_part(Eigen::MatrixXd& into, Eigen::Index row, Eigen::Index column,
                             const Eigen::MatrixXd& part) {
  eigen_assert(row + part.rows() <= into.rows() && column + part.cols() <= into.cols());
  for (Eigen::Index j = 0; j < part.cols(); ++j)
    for (Eigen::Index i = 0; i < part.rows(); ++i) into(row + i, column + j) = part(i, j);
}

REWOUND_INLINE Eigen::VectorXd row_of(const Eigen::MatrixXd& of, Eigen::Index row) {
  Eigen::VectorXd out(of.cols());
  for (Eigen::Index column = 0; column < of.cols(); ++column) out[column] = of(row, column);
  return out;
}

REWOUND_INLINE void put_row(Eigen::MatrixXd& into, Eigen::Index row, const Eigen::VectorXd& values) {
  eigen_assert(values.size() == into.cols());
  for (Eigen::Index column = 0; column < into.cols(); ++column) into(row, column) = values[column];
}

REWOUND_INLINE Eigen::MatrixXd principal_part(const Eigen::MatrixXd& of, const std::vector<Eigen::Index>& which) {
  const auto count = static_cast<Eigen::Index>(which.size());
  Eigen::MatrixXd out(count, count);
  for (Eigen::Index j = 0; j < count; ++j)
    for (Eigen::Index i = 0; i < count; ++i)
      out(i, j) = of(which[static_cast<std::size_t>(i)], which[static_cast<std::size_t>(j)]);
  return out;
}

REWOUND_INLINE Eigen::VectorXd part(const Eigen::VectorXd& of, Eigen::Index first, Eigen::Index count) {
  eigen_assert(first + count <= of.size());
  Eigen::VectorXd out(count);
  for (Eigen::Index i = 0; i < count; ++i) out[i] = of[first + i];
  return out;
}

REWOUND_INLINE cholesky_factor::cholesky_factor(Eigen::MatrixXd symmetric) : lower_(std::move(symmetric)) {
  base::expect(lower_.rows() == lower_.cols(), "matrix", static_cast<double>(lower_.cols()), "a square matrix");
  positive_ = factorise(lower_.data(), lower_.rows());
  for (Eigen::Index column = 1; column < lower_.cols(); ++column)
    for (Eigen::Index row = 0; row < column; ++row) lower_(row, column) = 0.0;
}

REWOUND_INLINE double cholesky_factor::log_determinant_of_root() const {
  double sum = 0.0;
  for (Eigen::Index i = 0; i < lower_.rows(); ++i) sum += std::log(lower_(i, i));
  return sum;
}

REWOUND_INLINE Eigen::VectorXd cholesky_factor::solve(Eigen::VectorXd x) const {
  eigen_assert(x.size() == lower_.rows());
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
  const Eigen::Index n = lower_.rows();
  Eigen::MatrixXd root(n, n), out(n, n);  // L^-1, of which column k begins at row k
  for (Eigen::Index k = 0; k < n; ++k) {
    double* own = root.data() + k * n;
    for (Eigen::Index row = k; row < n; ++row) own[row] = row == k ? 1.0 : 0.0;
    for (Eigen::Index column = k; column < n; ++column) {
      own[column] /= lower_(column, column);
      detail::add_scaled(own + column + 1, -own[column], lower_.data() + column * n + column + 1, n - column - 1);
    }
  }
  for (Eigen::Index k = 0; k < n; ++k)
    for (Eigen::Index row = k; row < n; ++row)
      out(row, k) = out(k, row) =
          detail::sum_of_products(root.data() + row * n + row, root.data() + k * n + row, n - row);
  return out;
}

REWOUND_INLINE Eigen::VectorXd cholesky_factor::whitened(Eigen::VectorXd x) const {
  eigen_assert(x.size() == lower_.rows());
  solve_lower(lower_.data(), lower_.rows(), x.data());
  return x;
}

REWOUND_INLINE Eigen::MatrixXd cholesky_factor::whitened_columns(Eigen::MatrixXd columns) const {
  eigen_assert(columns.rows() == lower_.rows());
  for (Eigen::Index k = 0; k < columns.cols(); ++k)
    solve_lower(lower_.data(), lower_.rows(), columns.data() + k * columns.rows());
  return columns;
}

}  // namespace rewound::fit
