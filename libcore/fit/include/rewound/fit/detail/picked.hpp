// SPDX-License-Identifier: MIT
#pragma once

#include <cstddef>
#include <vector>

#include <Eigen/Core>

namespace rewound::fit::detail {

/// Some of the parameters, rising.
using indices = std::vector<Eigen::Index>;

inline Eigen::VectorXd picked(const Eigen::VectorXd& from, const indices& which) {
  Eigen::VectorXd out(static_cast<Eigen::Index>(which.size()));
  for (std::size_t i = 0; i < which.size(); ++i) out[static_cast<Eigen::Index>(i)] = from[which[i]];
  return out;
}

inline Eigen::MatrixXd picked_columns(const Eigen::MatrixXd& from, const indices& which) {
  Eigen::MatrixXd out(from.rows(), static_cast<Eigen::Index>(which.size()));
  for (std::size_t k = 0; k < which.size(); ++k)
    for (Eigen::Index row = 0; row < from.rows(); ++row) out(row, static_cast<Eigen::Index>(k)) = from(row, which[k]);
  return out;
}

/// `at` with some of its elements replaced.
inline Eigen::VectorXd replaced(Eigen::VectorXd at, const indices& which, const Eigen::VectorXd& by) {
  for (std::size_t i = 0; i < which.size(); ++i) at[which[i]] = by[static_cast<Eigen::Index>(i)];
  return at;
}

}  // namespace rewound::fit::detail
