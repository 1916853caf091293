// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>

#include <rewound/units/quantity.hpp>

namespace rewound::checks {

struct supply_input {
  units::voltage rated_voltage;
  units::frequency rated_frequency;
  units::voltage supply_voltage;
  units::frequency supply_frequency;
};

/// How the mains lies to the rating, all in percent of the rating except the flux ratio.
struct supply_result {
  double voltage_percent;    ///< signed deviation
  double frequency_percent;  ///< signed deviation
  double combined_percent;   ///< sum of the absolute deviations
  double flux_ratio;         ///< (V / f) at the supply over (V / f) rated
};

/// Compares today's mains with the rating.
inline supply_result supply(const supply_input& in) {
  // Scaled by 100 before dividing, so that 121 V on a rating of 110 V is 10 % and not a hair above it.
  const auto percent = [](double now, double rated) { return 100.0 * (now - rated) / rated; };
  const double voltage = percent(units::in_volts(in.supply_voltage), units::in_volts(in.rated_voltage));
  const double frequency = percent(units::in_hertz(in.supply_frequency), units::in_hertz(in.rated_frequency));
  return {voltage, frequency, std::abs(voltage) + std::abs(frequency),
          (in.supply_voltage / in.rated_voltage).value() * (in.rated_frequency / in.supply_frequency).value()};
}

}  // namespace rewound::checks
