// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>
#include <optional>

#include <rewound/machine/conductor.hpp>
#include <rewound/measurement/instrument.hpp>
#include <rewound/measurement/uncertain.hpp>
#include <rewound/units/quantity.hpp>
#include <rewound/units/temperature.hpp>

namespace rewound::checks {

/// A winding resistance at a winding temperature, and the meter that read it.
struct resistance_reading {
  units::resistance resistance;
  units::temperature winding;
  units::temperature_difference winding_uncertainty;  ///< standard uncertainty
  measurement::instrument<units::resistance> ohmmeter;
};

/// What the section should have: either a design value, taken as exact, or an earlier reading of the same section.
struct resistance_input {
  resistance_reading measured;
  std::optional<resistance_reading> earlier;
  std::optional<units::resistance> expected;
  units::temperature expected_at = units::celsius(20.0);
  machine::conductor_material material = machine::conductor_material::copper;
};

struct resistance_result {
  measurement::uncertain<units::resistance> at_20_C;
  measurement::uncertain<units::resistance> at_25_C;
  std::optional<units::resistance> expected_at_20_C;
  std::optional<measurement::uncertain<double>> deviation_percent;  ///< measured over expected, less one
};

namespace detail {

inline double temperature_part(const resistance_reading& reading, machine::conductor_material material) {
  return machine::relative_slope_per_K(reading.winding, material) * units::in_kelvins(reading.winding_uncertainty);
}

inline measurement::uncertain<units::resistance> referred(const resistance_reading& reading, units::temperature to,
                                                          machine::conductor_material material) {
  const units::resistance value = machine::at_temperature(reading.resistance, reading.winding, to, material);
  const double meter = (reading.ohmmeter.standard_uncertainty(reading.resistance) / reading.resistance).value();
  return {value, std::hypot(meter, temperature_part(reading, material)) * value};
}

/// Relative uncertainty of the ratio of two readings: one meter's gain error cancels, two meters' do not.
inline double ratio_uncertainty(const resistance_reading& now, const resistance_reading& before,
                                machine::conductor_material material) {
  const double digits = std::hypot((now.ohmmeter.digit_uncertainty() / now.resistance).value(),
                                   (before.ohmmeter.digit_uncertainty() / before.resistance).value());
  const double gains = now.ohmmeter.same_meter(before.ohmmeter)
                           ? 0.0
                           : std::hypot(now.ohmmeter.gain_uncertainty(), before.ohmmeter.gain_uncertainty());
  const double temperatures = std::hypot(temperature_part(now, material), temperature_part(before, material));
  return std::hypot(digits, gains, temperatures);
}

}  // namespace detail

/// Brings a winding resistance to 20 and 25 degC and compares it with the design value or, failing that, with the earlier visit.
inline resistance_result resistance(const resistance_input& in) {
  const auto reference = units::celsius(20.0);
  resistance_result out{detail::referred(in.measured, reference, in.material),
                        detail::referred(in.measured, units::celsius(25.0), in.material), std::nullopt, std::nullopt};
  double relative_uncertainty = 0.0;
  if (in.expected) {
    out.expected_at_20_C = machine::at_temperature(*in.expected, in.expected_at, reference, in.material);
    relative_uncertainty = (out.at_20_C.standard_uncertainty / out.at_20_C.value).value();
  } else if (in.earlier) {
    out.expected_at_20_C = detail::referred(*in.earlier, reference, in.material).value;
    relative_uncertainty = detail::ratio_uncertainty(in.measured, *in.earlier, in.material);
  } else {
    return out;
  }
  const double ratio = (out.at_20_C.value / *out.expected_at_20_C).value();
  out.deviation_percent = {100.0 * (ratio - 1.0), 100.0 * ratio * relative_uncertainty};
  return out;
}

}  // namespace rewound::checks
