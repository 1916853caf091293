// SPDX-License-Identifier: MIT
#pragma once

#include <string>

#include <rewound/fit/population.hpp>

namespace rewound::fit {

/// What a meter reads while the voltage rises.
enum class channel { current, power, rotation };

/// One speed and channel reduced to what its readings say of
/// ln value = level + slope z + curvature z^2 + sum of shape coefficients times shape functions of z, z = ln x.
struct summary_block {
  std::string speed;
  channel what = channel::current;
  unit_information information;       ///< of (level, slope, curvature, shape coefficients)
  int tested = 0;                     ///< how many of the coefficients the readings determine by themselves, 0 to 2
  int readings = 0;
};

}  // namespace rewound::fit
