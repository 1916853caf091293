// SPDX-License-Identifier: MIT
#pragma once

#include <numbers>

#include <rewound/units/quantity.hpp>

namespace rewound::units {

/// Mechanical speed of rotation from revolutions per minute.
inline angular_velocity rpm(double revolutions_per_minute) {
  return angular_velocity::from_value(revolutions_per_minute * std::numbers::pi / 30.0);
}

/// Mechanical speed of rotation in revolutions per minute.
inline double in_rpm(angular_velocity speed) { return speed.value() * 30.0 / std::numbers::pi; }

}  // namespace rewound::units
