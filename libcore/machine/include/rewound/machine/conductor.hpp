// SPDX-License-Identifier: MIT
#pragma once

#include <rewound/units/quantity.hpp>
#include <rewound/units/temperature.hpp>

namespace rewound::machine {

enum class conductor_material { copper, aluminium };

/// Temperature below 0 degC at which the straight-line resistance would vanish, in kelvins.
/// Copper 234.5, aluminium 225 (IEC 60335-1, IEEE 112, UL; IEC 60034-1 takes 235 for copper).
inline double inferred_zero_offset_K(conductor_material material) {
  return material == conductor_material::copper ? 234.5 : 225.0;
}

/// Resistance that a winding measured at `from` has at `to`: R2 = R1 (k + t2) / (k + t1), t in degC.
inline units::resistance at_temperature(units::resistance measured, units::temperature from, units::temperature to,
                                        conductor_material material) {
  const double k = inferred_zero_offset_K(material);
  return measured * ((k + units::in_celsius(to)) / (k + units::in_celsius(from)));
}

/// Relative change of resistance per kelvin at `t`: 1 / (k + t).
inline double relative_slope_per_K(units::temperature t, conductor_material material) {
  return 1.0 / (inferred_zero_offset_K(material) + units::in_celsius(t));
}

}  // namespace rewound::machine
