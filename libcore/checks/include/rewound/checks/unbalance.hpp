// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <array>
#include <cmath>

#include <rewound/base/expect.hpp>
#include <rewound/units/quantity.hpp>

namespace rewound::checks {

/// Unbalance of three line voltages, or currents, in percent: largest deviation from their mean, over the mean (NEMA
/// MG 1 12.45 and 14.36 give it for voltages). Not the difference of the extremes, nor the ratio of the symmetrical
/// components that IEC takes, which are other numbers.
///
/// @throws base::error (precondition) when all three are zero
template <class Quantity>
double unbalance_percent(const std::array<Quantity, 3>& lines) {
  const double mean = (lines[0].value() + lines[1].value() + lines[2].value()) / 3.0;
  base::expect(mean > 0.0, "lines", mean, "three values, not all of them 0");
  double most = 0.0;
  for (const auto& line : lines) most = std::max(most, std::abs(line.value() - mean));
  return 100.0 * most / mean;
}

}  // namespace rewound::checks
