// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <numbers>
#include <optional>
#include <vector>

#include <rewound/base/compiled.hpp>
#include <rewound/checks/leakage.hpp>
#include <rewound/units/quantity.hpp>

namespace rewound::checks {

REWOUND_INLINE leakage_result leakage(const leakage_input& in) {
  leakage_result out;
  for (const auto& reading : in.readings) {
    const double factor = reading.voltage ? std::max(1.0, (in.full / *reading.voltage).value()) : 1.0;
    out.factor.push_back(factor);
    out.capacitance_nF.push_back(
        leaking_capacitance_nF(reading.current, reading.voltage.value_or(in.full), in.frequency));
  }
  for (const bool on : {true, false})
    for (const bool reversed : {false, true}) {
      const bool read = std::any_of(in.readings.begin(), in.readings.end(), [&](const leakage_reading& reading) {
        return reading.condition.reversed == reversed && reading.condition.switched_on == on;
      });
      if (!read) out.missing.push_back({reversed, on});
    }
  return out;
}

}  // namespace rewound::checks
