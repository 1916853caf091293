// SPDX-License-Identifier: MIT
#pragma once

#include <limits>
#include <string_view>
#include <vector>

#include <rewound/fit/linear.hpp>
#include <rewound/measurement/uncertain.hpp>
#include <rewound/units/quantity.hpp>

namespace rewound::checks {

struct cooling_reading {
  units::duration time;  ///< since the moment of switch-off
  units::resistance resistance;
};

struct cooling_input {
  std::vector<cooling_reading> readings;  ///< times rising
  units::resistance at_ambient;           ///< what the winding has when it is as cold as the air
  units::resistance digit_uncertainty;    ///< standard, of one reading
};

enum class cooling_status {
  extrapolated,   ///< by the straight line of the logarithm
  highest_taken,  ///< the resistance still rose after switch-off: its highest value stands
  first_taken,    ///< a single reading, as it is: a lower bound
  not_cooling     ///< no reading above the ambient's value, or no fall beyond what rounding makes
};

constexpr std::string_view name(cooling_status status) {
  switch (status) {
    case cooling_status::extrapolated: return "extrapolated";
    case cooling_status::highest_taken: return "highest_taken";
    case cooling_status::first_taken: return "first_taken";
    case cooling_status::not_cooling: return "not_cooling";
  }
  return "unknown";
}

struct cooling_result {
  cooling_status status = cooling_status::not_cooling;
  /// Resistance at the moment of switch-off; not a number when not_cooling.
  measurement::uncertain<units::resistance> at_switch_off{units::ohms(std::numeric_limits<double>::quiet_NaN()),
                                                          units::ohms(std::numeric_limits<double>::quiet_NaN())};
  units::duration time_constant = units::seconds(std::numeric_limits<double>::quiet_NaN());
};

/// Cooling readings carried back to the moment of switch-off: the logarithm of (R - R at ambient) is a straight line in
/// time. A resistance that still rises after switch-off is not extrapolated: its highest value stands
/// (IEC 60034-1 8.6.2, from memory, unverified).
///
/// @throws base::error (precondition) for no reading, or an uncertainty not above 0
cooling_result cooling(const cooling_input& in);

}  // namespace rewound::checks

#ifndef REWOUND_COMPILED
#include <rewound/checks/impl/cooling.hpp>
#endif
