// SPDX-License-Identifier: MIT
#pragma once

#include <numbers>
#include <rewound/base/expect.hpp>
#include <rewound/machine/detail/gap.hpp>
#include <rewound/machine/detail/valid.hpp>
#include <rewound/machine/induction_machine.hpp>
#include <rewound/units/quantity.hpp>

namespace rewound::machine {

/// The capacitance that puts the start winding's current a quarter period ahead of the main winding's at rest, in place
/// of any it has: Xc = Xa + Ra cot(phi), with phi the angle of the main winding's impedance (circuit theory; iron
/// linear, which a standing machine's is).
///
/// @throws base::error  precondition, when a parameter cannot be or there is no start winding
inline units::capacitance quadrature_capacitance(const induction_machine& machine, units::frequency frequency) {
  detail::expect_valid(machine);
  base::expect(machine.auxiliary.has_value(), "auxiliary", "none", "a start winding");
  detail::expect_above(units::in_hertz(frequency), "frequency");
  const double ratio = units::in_hertz(frequency) / machine.rated_frequency_Hz;
  const auto rotor = detail::rotor_of(machine, ratio);
  const detail::phasor field = detail::inverse(detail::rotor_admittance(rotor, 1.0) +
                                               detail::phasor{rotor.core_siemens, -2.0 / rotor.magnetising_ohm});
  const auto& a = *machine.auxiliary;
  const double square = 2.0 * a.turns_ratio * a.turns_ratio;
  const detail::phasor main{machine.main_resistance_ohm + 2.0 * field.re,
                            ratio * machine.main_leakage_ohm + 2.0 * field.im};
  const detail::phasor start{a.resistance_ohm + square * field.re, ratio * a.leakage_ohm + square * field.im};
  base::expect(main.im > 0.0, "main winding", main.im, "a reactance above 0 ohm");
  const double capacitive = start.im + start.re * main.re / main.im;
  return units::farads(1.0 / (2.0 * std::numbers::pi * units::in_hertz(frequency) * capacitive));
}

}  // namespace rewound::machine
