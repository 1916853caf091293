// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>

#include <Eigen/Core>

#include <rewound/machine/curve_shapes.hpp>

namespace rewound::checks::detail {

inline constexpr Eigen::Index summary_terms = 1 + static_cast<Eigen::Index>(machine::shape_function_count);

/// 1, z, z^2 and the shape functions at z = ln x (machine/curve_shapes.hpp).
inline Eigen::VectorXd basis(double x) {
  const auto shape = machine::shape_functions_at(std::log(x));
  Eigen::VectorXd out(summary_terms);
  out[0] = 1.0;
  for (std::size_t i = 0; i < shape.values.size(); ++i) out[static_cast<Eigen::Index>(i) + 1] = shape.values[i];
  return out;
}

}  // namespace rewound::checks::detail
