// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <array>
#include <cmath>
#include <random>

#include <Eigen/Dense>

#include <rewound/fit/dense.hpp>

// The plain loops against Eigen's own products and factors.
namespace {

namespace fit = rewound::fit;
using Eigen::MatrixXd;
using Eigen::VectorXd;

MatrixXd drawn(Eigen::Index rows, Eigen::Index columns, unsigned seed) {
  std::mt19937 random{seed};
  std::uniform_real_distribution<double> number(-1.0, 1.0);
  MatrixXd out(rows, columns);
  for (double& each : out.reshaped()) each = number(random);
  return out;
}

/// Positive definite, of any condition up to some ten thousand.
MatrixXd symmetric(Eigen::Index size, unsigned seed) {
  const MatrixXd root = drawn(size, size, seed);
  return root * root.transpose() + 1e-3 * MatrixXd::Identity(size, size);
}

bool near(const MatrixXd& a, const MatrixXd& b, double tolerance = 1e-13) {
  return a.rows() == b.rows() && a.cols() == b.cols() && (a - b).norm() <= tolerance * (1.0 + b.norm());
}

}  // namespace

TEST_CASE("products of matrices and vectors are Eigen's, of any shape") {
  for (const auto [rows, inner, columns] : {std::array{1, 1, 1}, {3, 5, 2}, {7, 1, 4}, {2, 9, 9}}) {
    const MatrixXd a = drawn(rows, inner, 1), b = drawn(inner, columns, 2), c = drawn(rows, columns, 3);
    const VectorXd x = drawn(inner, 1, 4), y = drawn(rows, 1, 5);
    CHECK(near(fit::product(a, b), a * b));
    CHECK(near(fit::transposed_product(a, c), a.transpose() * c));
    CHECK(fit::transposed(a) == MatrixXd(a.transpose()));
    CHECK(near(fit::applied(a, x), a * x));
    CHECK(near(fit::applied_transposed(a, y), a.transpose() * y));
    const MatrixXd covariance = symmetric(inner, 6);
    CHECK(near(fit::carried(a, covariance), a * covariance * a.transpose()));
    CHECK(std::abs(fit::dot(y, drawn(rows, 1, 7)) - y.dot(VectorXd(drawn(rows, 1, 7)))) < 1e-13);
    MatrixXd sum = c;
    fit::add_outer(sum, -1.5, y, drawn(columns, 1, 8));
    CHECK(near(sum, c - 1.5 * y * drawn(columns, 1, 8).transpose()));
  }
  CHECK(fit::product(MatrixXd(2, 0), MatrixXd(0, 3)) == MatrixXd::Zero(2, 3));
}

TEST_CASE("parts of matrices and vectors are copies of them") {
  const MatrixXd of = drawn(6, 5, 9);
  CHECK(fit::part(of, 1, 2, 4, 3) == MatrixXd(of.block(1, 2, 4, 3)));
  CHECK(fit::part(of, 6, 0, 0, 5).size() == 0);
  const VectorXd list = of.col(1);
  CHECK(fit::part(list, 2, 3) == VectorXd(list.segment(2, 3)));
}

TEST_CASE("a Cholesky factor and all that is solved by it are Eigen's") {
  for (const Eigen::Index size : {1, 2, 3, 8, 9, 40}) {
    const MatrixXd of = symmetric(size, static_cast<unsigned>(size));
    const Eigen::LLT<MatrixXd> known(of);
    // Of the upper half nothing is read.
    MatrixXd lower_half = of;
    for (Eigen::Index k = 1; k < size; ++k) lower_half.col(k).head(k).setConstant(std::nan(""));
    const fit::cholesky_factor factor(lower_half);
    REQUIRE(factor.is_positive_definite());
    CHECK(near(factor.lower(), known.matrixL(), 1e-11));
    const MatrixXd right = drawn(size, 3, 21);
    const VectorXd one = right.col(1);
    CHECK((of * factor.solve(one) - one).norm() < 1e-8);
    CHECK(near(factor.solve_columns(right), known.solve(right), 1e-8));
    CHECK((of * factor.inverse() - MatrixXd::Identity(size, size)).norm() < 1e-8);
    CHECK(near(factor.whitened(one), known.matrixL().solve(one), 1e-8));
    CHECK(near(factor.whitened_columns(right), known.matrixL().solve(right), 1e-8));
    CHECK(std::abs(2.0 * factor.log_determinant_of_root() - std::log(of.determinant())) < 1e-8);
  }
}

TEST_CASE("what is not positive definite has no factor") {
  MatrixXd indefinite = MatrixXd::Identity(3, 3);
  indefinite(2, 2) = -1.0;
  CHECK_FALSE(fit::cholesky_factor(indefinite).is_positive_definite());
  CHECK_FALSE(fit::cholesky_factor(MatrixXd::Ones(2, 2)).is_positive_definite());  // singular
  for (const Eigen::Index size : {5, 9, 12}) {
    MatrixXd only_last_fails = symmetric(size, 3);
    CHECK(fit::cholesky_factor(only_last_fails).is_positive_definite());
    // The last pivot is what is left of the last element.
    const MatrixXd lower = fit::cholesky_factor(only_last_fails).lower();
    only_last_fails(size - 1, size - 1) -= 1.001 * lower(size - 1, size - 1) * lower(size - 1, size - 1);
    CHECK_FALSE(fit::cholesky_factor(only_last_fails).is_positive_definite());
  }
  CHECK_THROWS_AS(fit::cholesky_factor(MatrixXd::Ones(3, 2)), rewound::base::error);
  CHECK_FALSE(fit::cholesky_factor(MatrixXd::Constant(2, 2, std::nan(""))).is_positive_definite());
  CHECK_FALSE(fit::cholesky_factor().is_positive_definite());
}

TEST_CASE("parts, rows and principal parts are Eigen's, read and written") {
  const MatrixXd whole = drawn(6, 5, 8);
  MatrixXd written = whole;
  const MatrixXd patch = drawn(2, 3, 9);
  fit::put_part(written, 3, 1, patch);
  MatrixXd expected = whole;
  expected.block(3, 1, 2, 3) = patch;
  CHECK(written == expected);
  CHECK(fit::part(written, 3, 1, 2, 3) == patch);
  fit::put_row(written, 0, fit::row_of(whole, 5));
  expected.row(0) = whole.row(5);
  CHECK(written == expected);
  const std::vector<Eigen::Index> which{0, 2, 4};
  CHECK(fit::principal_part(whole, which) == MatrixXd(whole(which, which)));
}
