// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <optional>

#include <rewound/units/quantity.hpp>

namespace rewound::checks {

/// The resistance from the frame to the earth pin, and what is known of the cord in between.
struct earth_input {
  units::resistance continuity;
  std::optional<units::length> cord;
  std::optional<double> core_ohm_per_m;  ///< of the cord's earth core
};

struct earth_result {
  std::optional<units::resistance> core;     ///< what the cord's own core may have
  std::optional<units::resistance> without;  ///< the reading less the core, not below zero
};

/// Splits the reading into the cord's core and the rest: clamps, plug, contact with the frame.
inline earth_result earth(const earth_input& in) {
  earth_result out;
  if (!in.cord || !in.core_ohm_per_m) return out;
  out.core = units::ohms(*in.core_ohm_per_m * units::in_metres(*in.cord));
  out.without = std::max(in.continuity - *out.core, units::ohms(0.0));
  return out;
}

}  // namespace rewound::checks
