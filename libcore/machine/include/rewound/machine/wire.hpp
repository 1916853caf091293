// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>
#include <numbers>

#include <rewound/base/expect.hpp>
#include <rewound/machine/conductor.hpp>
#include <rewound/units/quantity.hpp>
#include <rewound/units/temperature.hpp>

namespace rewound::machine {

/// Diameter of bare wire of an American wire gauge, 0.005 in * 92^((36 - n) / 39) (ASTM B258), not rounded to the
/// tenth of a mil. Gauges 0 to 56; fractions of a gauge lie between their neighbours.
inline units::length awg_diameter(double gauge) {
  base::expect(gauge >= 0.0 && gauge <= 56.0, "wire_awg", gauge, "a gauge from 0 to 56");
  return units::millimetres(0.127 * std::pow(92.0, (36.0 - gauge) / 39.0));
}

/// The gauge, seldom a whole number, that has this diameter: the inverse of awg_diameter().
inline double awg_of(units::length diameter) {
  base::expect(diameter.value() > 0.0, "diameter", units::in_millimetres(diameter), "above 0 mm");
  return 36.0 - 39.0 * std::log(units::in_millimetres(diameter) / 0.127) / std::log(92.0);
}

/// How the wire's size is stated, which goes with the conductivity that its tables are made with.
enum class wire_standard {
  metric,  ///< IEC 60317-0-1: nominal ohms per metre with 58.5 MS/m
  awg      ///< ASTM B258 with annealed copper of IEC 60028: 1/58 ohm mm2/m
};

/// Resistivity at 20 degC in ohm metres. Copper 1/58.5 or 1/58 ohm mm2/m; aluminium 0.028264 ohm mm2/m (IEC 60889,
/// from memory, unverified).
inline double resistivity_ohm_m(record::conductor_material material, wire_standard standard) {
  if (material == record::conductor_material::aluminium) return 0.028264e-6;
  return 1e-6 / (standard == wire_standard::metric ? 58.5 : 58.0);
}

/// What a section is wound with: all its turns in series, each of `parallel` strands.
struct wound_wire {
  units::length diameter;  ///< of the bare wire
  double turns = 0.0;
  units::length mean_turn;
  int parallel = 1;
  record::conductor_material material = record::conductor_material::copper;
  wire_standard standard = wire_standard::metric;
};

/// Resistance of a winding section at 20 degC: rho * turns * mean turn / (parallel * pi d^2 / 4).
inline units::resistance wound_resistance(const wound_wire& wire) {
  const double area = wire.parallel * std::numbers::pi / 4.0 * wire.diameter.value() * wire.diameter.value();
  return units::ohms(resistivity_ohm_m(wire.material, wire.standard) * wire.turns * wire.mean_turn.value() / area);
}

/// Diameter of the wire with which `wire`, otherwise unchanged, has the resistance given (at 20 degC).
inline units::length diameter_that_explains(units::resistance at_20_C, const wound_wire& wire) {
  base::expect(at_20_C.value() > 0.0, "resistance", units::in_ohms(at_20_C), "above 0 ohm");
  const double area = resistivity_ohm_m(wire.material, wire.standard) * wire.turns * wire.mean_turn.value() /
                      (wire.parallel * at_20_C.value());
  return units::metres(std::sqrt(4.0 * area / std::numbers::pi));
}

/// Number of turns with which `wire`, otherwise unchanged, has the resistance given (at 20 degC).
inline double turns_that_explain(units::resistance at_20_C, const wound_wire& wire) {
  base::expect(at_20_C.value() > 0.0, "resistance", units::in_ohms(at_20_C), "above 0 ohm");
  wound_wire one_turn = wire;
  one_turn.turns = 1.0;
  return (at_20_C / wound_resistance(one_turn)).value();
}

/// Relative standard uncertainty of a resistance computed from the wire.
///
/// @param wire_limit       relative limit of the wire's ohms per metre, rectangular (GUM 4.3.7)
/// @param mean_turn_limit  relative limit of the mean turn's length, rectangular
inline double wound_resistance_uncertainty(double wire_limit, double mean_turn_limit) {
  return std::hypot(wire_limit, mean_turn_limit) / std::numbers::sqrt3;
}

}  // namespace rewound::machine
