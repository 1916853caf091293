// SPDX-License-Identifier: MIT
#pragma once

#include <optional>
#include <string>

#include <rewound/fit/population.hpp>

namespace rewound::fit {

/// What a meter reads while the voltage rises.
enum class channel { current, power, rotation };

/// By how much a channel of good machines spreads, over their current: watts more, speed less (common practice, no
/// source).
constexpr double spread_over_current(channel what) {
  return what == channel::current ? 1.0 : what == channel::power ? 1.5 : 0.5;
}

/// One speed and channel reduced to what its readings say of
/// ln value = level + slope z + curvature z^2 + sum of shape coefficients times shape functions of z, z = ln x.
struct summary_block {
  std::string speed;
  channel what = channel::current;
  unit_information information;  ///< of (level, slope, curvature, shape coefficients)
  int tested = 0;                ///< how many of the coefficients the readings determine by themselves, 0 to 2
  int readings = 0;
  std::optional<double> lowest_share = std::nullopt;  ///< least voltage among them over the rated one, where kept
};

}  // namespace rewound::fit
