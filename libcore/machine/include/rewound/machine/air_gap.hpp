// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cmath>
#include <numbers>

#include <rewound/base/expect.hpp>
#include <rewound/units/quantity.hpp>

namespace rewound::machine {

/// A winding and the gap that its field has to cross, of one phase.
struct wound_core {
  int poles = 4;
  double turns = 0.0;           ///< in series
  double winding_factor = 1.0;  ///< of the fundamental
  units::length bore;           ///< inner diameter of the stator
  units::length stack;          ///< length of the iron
  units::length gap;            ///< between stator and rotor, as measured
  double gap_factor = 1.0;      ///< by which slots lengthen it (Carter's factor)
};

/// Magnetising reactance of the winding on unsaturated iron: 2 pi f times the inductance (2 / pi) mu0 D L (kw N / pole
/// pairs)^2 / g' of a sinusoidally distributed winding, with g' the gap times its factor.
///
/// @throws base::error (precondition) unless all are above 0 and the number of poles is even
/// Source: physics, computed (flux of the fundamental under one pole times the turns;
/// tests/unit/machine/test_air_gap.cpp integrates it).
inline units::resistance magnetising_reactance(const wound_core& of, units::frequency at) {
  const double bore = units::in_metres(of.bore), stack = units::in_metres(of.stack), gap = units::in_metres(of.gap);
  const double least = std::min({of.turns, of.winding_factor, of.gap_factor, bore, stack, gap, units::in_hertz(at)});
  base::expect(least > 0.0 && std::isfinite(least), "core", least, "turns, factors, lengths and frequency above 0");
  base::expect(of.poles >= 2 && of.poles % 2 == 0, "poles", of.poles, "an even number of 2 or more");
  constexpr double mu0 = 4e-7 * std::numbers::pi;
  const double per_pair = of.winding_factor * of.turns / (0.5 * of.poles);
  return units::ohms(4.0 * units::in_hertz(at) * mu0 * bore * stack * per_pair * per_pair / (gap * of.gap_factor));
}

}  // namespace rewound::machine
