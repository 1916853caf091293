// SPDX-License-Identifier: MIT
#pragma once

#include "box_kernel.hpp"

namespace rewound::fit {
namespace {

/// Takes the part along a column, itself made orthogonal to those before it, off the target.
template <std::size_t columns>
struct orthogonal_columns {
  lanes unit[columns][most];
  lanes target[most];

  REWOUND_IN_LANES void take(int readings, std::size_t place, const lanes* column) {
    lanes whole{};
    for (int i = 0; i < readings; ++i) {
      unit[place][i] = column[i];
      whole += column[i] * column[i];
    }
    for (std::size_t k = 0; k < place; ++k) {
      lanes along{};
      for (int i = 0; i < readings; ++i) along += unit[k][i] * unit[place][i];
      for (int i = 0; i < readings; ++i) unit[place][i] -= along * unit[k][i];
    }
    lanes square{}, product{};
    for (int i = 0; i < readings; ++i) square += unit[place][i] * unit[place][i];
    // A column that the others explain is rounding.
    const lanes per_length = choose(square > 1e-18 * whole, 1.0 / root(greater(square, 1e-300)), lanes{});
    for (int i = 0; i < readings; ++i) {
      unit[place][i] *= per_length;
      product += unit[place][i] * target[i];
    }
    for (int i = 0; i < readings; ++i) target[i] -= product * unit[place][i];
  }

  REWOUND_IN_LANES lanes left(int readings) const {
    lanes out{};
    for (int i = 0; i < readings; ++i) out += target[i] * target[i];
    return out;
  }
};

/// A bound below chi2 of weighted magnetising curves with load that lie within a fifth of their readings.
///
/// Their squares are sums of x^2, x^(m+1), x^(2m), x^-2 and 1. With factors of any sign, which is more than the curve
/// may, they are found linearly from the squares of the currents, whose weighted deviations are those of the currents
/// to first order. Half of the least over a close scan of m: second order takes a fifth at most, the scan's gaps less.
inline void bound_loaded(const error_group& g, error_answers<5>& out) {
  constexpr int steps = 44;
  constexpr double share = 0.5;
  lanes root_weight[most], column[most];
  orthogonal_columns<5> common;
  for (int i = 0; i < g.readings; ++i) {
    root_weight[i] = root(g.share[i]) * (0.5 * reciprocal(g.current[i]));
    common.target[i] = root_weight[i] * g.current[i] * g.current[i];
  }
  for (std::size_t place = 0; place < 3; ++place) {
    for (int i = 0; i < g.readings; ++i) {
      const lanes square = g.x[i] * g.x[i];
      column[i] = root_weight[i] * (place == 0 ? square : place == 1 ? lanes(1.0) : reciprocal(square));
    }
    common.take(g.readings, place, column);
  }
  lanes least = unbounded;
  for (int step = 0; step <= steps; ++step) {
    const double m = 1.2 + (12.0 - 1.2) * step / steps;
    auto here = common;
    for (int i = 0; i < g.readings; ++i) column[i] = root_weight[i] * exponential((m + 1.0) * g.z[i]);
    here.take(g.readings, 3, column);
    for (int i = 0; i < g.readings; ++i) column[i] = root_weight[i] * exponential(2.0 * m * g.z[i]);
    here.take(g.readings, 4, column);
    least = lesser(here.left(g.readings), least);
  }
  for (auto& number : out.parameter) number = lanes{};
  for (auto& number : out.covariance) number = lanes{};
  out.chi2 = share * least;
  out.unit_variance = 1.0;
  out.settled = out.near = flags{};
  out.certified = g.sound & finite(least);
}

}  // namespace
}  // namespace rewound::fit
