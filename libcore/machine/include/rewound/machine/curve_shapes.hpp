// SPDX-License-Identifier: MIT
#pragma once

// What shapes curves of running current against voltage take: a mixture of normal distributions over the coefficients
// of a common basis, made by tools/population/curve_shapes.py from simulated machines and closed forms.

#include <array>
#include <cstddef>
#include <string_view>

#include <rewound/machine/tables.hpp>

namespace rewound::machine {

/// Functions of the basis beside the level: z, z^2, and six that carry what parabolas leave over.
inline constexpr std::size_t shape_function_count = 8;

/// Beyond the tabulated voltages an exponent may be another by this much (common practice, no source: saturation
/// above, slip below).
inline constexpr double exponent_change_beyond_table = 0.3;

/// ln(I / I at rated voltage) = sum of coefficients times these values, up to `beyond_uncertainty`.
struct shape_row {
  std::array<double, shape_function_count> values;
  double beyond_uncertainty;  ///< of ln I, 0 within the tabulated voltages
};

/// The basis at z = ln(voltage / rated voltage): straight lines between the table's nodes and beyond its ends.
shape_row shape_functions_at(double z);

/// One kind of curve: prior weight, mean of the coefficients, and the lower triangular factor of their covariance.
struct curve_kind {
  std::string_view name;
  double weight;
  std::array<double, shape_function_count> mean;
  std::array<std::array<double, shape_function_count>, shape_function_count> factor;
};

inline constexpr std::size_t curve_kind_count = tables::curve_shape_kinds.size() / shape_function_count;

/// All kinds; the weights sum to 1.
inline const std::array<curve_kind, curve_kind_count>& curve_kinds() {
  static const auto kinds = [] {
    std::array<curve_kind, curve_kind_count> out{};
    for (std::size_t k = 0; k < curve_kind_count; ++k)
      for (std::size_t i = 0; i < shape_function_count; ++i) {
        const auto& row = tables::curve_shape_kinds[k * shape_function_count + i];
        out[k].name = row.kind;
        out[k].weight = row.weight;
        out[k].mean[i] = row.mean;
        out[k].factor[i] = {row.l0, row.l1, row.l2, row.l3, row.l4, row.l5, row.l6, row.l7};
      }
    return out;
  }();
  return kinds;
}

/// Root mean squares of the coefficients over all kinds.
std::array<double, shape_function_count> shape_spread();

}  // namespace rewound::machine

#ifndef REWOUND_COMPILED
#include <rewound/machine/impl/curve_shapes.hpp>
#endif
