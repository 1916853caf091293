// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <optional>
#include <vector>

#include <rewound/units/quantity.hpp>

namespace rewound::checks {

/// Voltages of one speed while they rose.
struct standstill_input {
  std::vector<units::voltage> stood;        ///< at which the rotor stood still
  std::vector<units::voltage> turned_from;  ///< of each other machine, the lowest at which its rotor was read turning
};

struct standstill_result {
  units::voltage stood;        ///< the highest
  units::voltage turned_from;  ///< the highest: from there on all others turned
  double ratio;                ///< of these, above 1 where it stands still though all others turn
};

/// How far above the voltage from which all others turn a rotor still stood. Nothing where it never stood still or
/// nothing is known of others.
inline std::optional<standstill_result> standstill(const standstill_input& in) {
  if (in.stood.empty() || in.turned_from.empty()) return std::nullopt;
  const auto stood = *std::max_element(in.stood.begin(), in.stood.end());
  const auto turned = *std::max_element(in.turned_from.begin(), in.turned_from.end());
  return standstill_result{stood, turned, stood.value() / turned.value()};
}

}  // namespace rewound::checks
