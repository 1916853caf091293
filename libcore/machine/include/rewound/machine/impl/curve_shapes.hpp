// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <string_view>

#include <rewound/base/compiled.hpp>
#include <rewound/machine/curve_shapes.hpp>
#include <rewound/machine/tables.hpp>

namespace rewound::machine {

REWOUND_INLINE shape_row shape_functions_at(double z) {
  const auto& table = tables::curve_shape_basis;
  std::size_t above = 1;
  while (above + 1 < table.size() && table[above].log_x < z) ++above;
  const auto& a = table[above - 1];
  const auto& b = table[above];
  const double share = (z - a.log_x) / (b.log_x - a.log_x);
  const auto between = [share](double left, double right) { return left + share * (right - left); };
  const double beyond = std::max({0.0, table.front().log_x - z, z - table.back().log_x});
  return {{z, z * z, between(a.f2, b.f2), between(a.f3, b.f3), between(a.f4, b.f4), between(a.f5, b.f5),
           between(a.f6, b.f6), between(a.f7, b.f7)},
          exponent_change_beyond_table * beyond};
}

REWOUND_INLINE std::array<double, shape_function_count> shape_spread() {
  std::array<double, shape_function_count> out{};
  for (const auto& kind : curve_kinds())
    for (std::size_t i = 0; i < shape_function_count; ++i) {
      double square = kind.mean[i] * kind.mean[i];
      for (const double entry : kind.factor[i]) square += entry * entry;
      out[i] += kind.weight * square;
    }
  for (auto& each : out) each = std::sqrt(each);
  return out;
}

}  // namespace rewound::machine
