// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>

#include <Eigen/Core>

namespace rewound::fit::detail {

/// A sum of products carried to about twice the precision of a double.
///
/// Iterative refinement gains nothing unless its residuals are formed more exactly than the solution itself.
/// Source: Ogita, Rump, Oishi, "Accurate sum and dot product", SIAM J. Sci. Comput. 26 (2005) 1955-1988.
class compensated_sum {
 public:
  void add(double term) {
    const double sum = high_ + term;
    const double shadow = sum - high_;
    low_ += (high_ - (sum - shadow)) + (term - shadow);
    high_ = sum;
  }

  void add_product(double left, double right) {
    const double product = left * right;
    low_ += std::fma(left, right, -product);
    add(product);
  }

  double value() const { return high_ + low_; }

 private:
  double high_ = 0.0;
  double low_ = 0.0;
};

/// target - offset - design * solution, each element rounded once.
inline Eigen::VectorXd residual_of(const Eigen::MatrixXd& design, const Eigen::VectorXd& solution,
                                   const Eigen::VectorXd& target, const Eigen::VectorXd& offset) {
  Eigen::VectorXd result(target.size());
  for (Eigen::Index row = 0; row < design.rows(); ++row) {
    compensated_sum sum;
    sum.add(target[row]);
    sum.add(-offset[row]);
    for (Eigen::Index column = 0; column < design.cols(); ++column) {
      sum.add_product(-design(row, column), solution[column]);
    }
    result[row] = sum.value();
  }
  return result;
}

/// transpose(design) * vector, each element rounded once.
inline Eigen::VectorXd compensated_transposed_product(const Eigen::MatrixXd& design, const Eigen::VectorXd& vector) {
  Eigen::VectorXd result(design.cols());
  for (Eigen::Index column = 0; column < design.cols(); ++column) {
    compensated_sum sum;
    for (Eigen::Index row = 0; row < design.rows(); ++row) sum.add_product(design(row, column), vector[row]);
    result[column] = sum.value();
  }
  return result;
}

}  // namespace rewound::fit::detail
