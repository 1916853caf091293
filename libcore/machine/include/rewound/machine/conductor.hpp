// SPDX-License-Identifier: MIT
#pragma once

#include <rewound/record/conductor_material.hpp>
#include <rewound/units/quantity.hpp>
#include <rewound/units/temperature.hpp>

namespace rewound::machine {

/// Copper's constant by IEC 60335-1, IEEE 112, NEMA and UL; IEC 60034-1 takes 235. Both round 1 / 0.00393 - 20 (IEC
/// 60028).
inline constexpr double copper_constant_K = 234.5;

/// Temperature below 0 degC at which the straight-line resistance would vanish, in kelvins.
///
/// @param copper_K  the convention for copper, 234.5 or 235; aluminium has 225 in both (IEEE 112, IEC 60034-1)
inline double inferred_zero_offset_K(record::conductor_material material, double copper_K = copper_constant_K) {
  return material == record::conductor_material::copper ? copper_K : 225.0;
}

/// Resistance that a winding measured at `from` has at `to`: R2 = R1 (k + t2) / (k + t1), t in degC.
inline units::resistance at_temperature(units::resistance measured, units::temperature from, units::temperature to,
                                        record::conductor_material material, double copper_K = copper_constant_K) {
  const double k = inferred_zero_offset_K(material, copper_K);
  return measured * ((k + units::in_celsius(to)) / (k + units::in_celsius(from)));
}

/// Relative change of resistance per kelvin at `t`: 1 / (k + t).
inline double relative_slope_per_K(units::temperature t, record::conductor_material material,
                                   double copper_K = copper_constant_K) {
  return 1.0 / (inferred_zero_offset_K(material, copper_K) + units::in_celsius(t));
}

/// Rise of a winding over the coolant by its resistance: (R2 - R1) / R1 (k + t1) - (t2 - t1), with t1 the temperature
/// of the cold winding and t2 that of the coolant at the end (IEC 60034-1 8.6.2, from memory, unverified; MIL-DTL-917F
/// 4.6.1.2.1 has the same in another form).
///
/// @param copper_K  the convention for copper, 234.5 or 235 (IEC 60034-1)
inline units::temperature_difference rise_by_resistance(units::resistance cold, units::temperature cold_at,
                                                        units::resistance hot, units::temperature coolant,
                                                        record::conductor_material material,
                                                        double copper_K = copper_constant_K) {
  const double k = inferred_zero_offset_K(material, copper_K);
  const double ratio = (hot / cold).value();
  return units::kelvins((ratio - 1.0) * (k + units::in_celsius(cold_at))) - (coolant - cold_at);
}

}  // namespace rewound::machine
