// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>
#include <numbers>
#include <optional>

#include <rewound/base/expect.hpp>
#include <rewound/machine/conductor.hpp>
#include <rewound/machine/wire.hpp>
#include <rewound/units/quantity.hpp>

namespace rewound::checks {

/// A supply cord: its conductor by cross-section or by gauge, one of them stated.
struct cord_input {
  std::optional<double> conductor_mm2;
  std::optional<int> conductor_awg;
  std::optional<units::length> length;
  units::current current;
  units::voltage supply;
};

struct cord_result {
  double conductor_mm2;                ///< cross-section of one conductor
  std::optional<double> drop_percent;  ///< of the supply, there and back, copper at 20 degC
};

/// Cross-section and voltage drop of a supply cord with two conductors that carry the current.
///
/// @throws base::error (precondition) when neither or both sizes are stated
inline cord_result cord(const cord_input& in) {
  base::expect(in.conductor_mm2.has_value() != in.conductor_awg.has_value(), "conductor", "neither or both sizes",
               "conductor_mm2 or conductor_awg");
  const double diameter = in.conductor_awg ? units::in_millimetres(machine::awg_diameter(*in.conductor_awg)) : 0.0;
  const double area = in.conductor_mm2 ? *in.conductor_mm2 : std::numbers::pi / 4.0 * diameter * diameter;
  cord_result out{area, std::nullopt};
  if (in.length) {
    const double rho = machine::resistivity_ohm_m(record::conductor_material::copper, machine::wire_standard::awg);
    const double ohm = 2.0 * rho * units::in_metres(*in.length) / (area * 1e-6);
    out.drop_percent = 100.0 * ohm * units::in_amperes(in.current) / units::in_volts(in.supply);
  }
  return out;
}

}  // namespace rewound::checks
