// SPDX-License-Identifier: MIT
#pragma once

// Parameters of a single-phase machine from two bench tests of its main winding, the start winding open: the line of
// method of IEEE 114 (from memory, unverified). Both take half of the locked reactance for each side of the gap.

#include <rewound/units/quantity.hpp>

namespace rewound::machine {

/// Volts, amperes and watts of one test.
struct bench_test {
  units::voltage voltage;
  units::current current;
  units::power power;
};

/// What the two tests say of the machine, as full values seen from the main winding.
struct tested_parameters {
  units::resistance main_resistance;
  units::resistance rotor_resistance;
  units::resistance leakage;      ///< reactance of the main winding and, alike, of the rotor
  units::resistance magnetising;  ///< reactance
  units::power rotational_loss;   ///< at no load: friction, windage and core
};

/// The formulas for the desk: R2 = R_locked - R1, X1 = X2 = X_locked / 2, Xm = 2 X_no-load - 1.5 X_locked, and the
/// rotational loss P - I^2 (R1 + R2 / 4), for at no load the backward field's rotor takes I^2 R2 / 4.
///
/// They pass over the magnetising branch of the locked machine, which makes R2 some percent low, and over the load that
/// the forward rotor still carries at no load, which makes the rotational loss up to a quarter high.
///
/// @param main  resistance of the main winding at the tests' temperature
/// @throws base::error  precondition, when the readings cannot belong together
tested_parameters simple_parameters(units::resistance main, const bench_test& locked, const bench_test& no_load);

/// The same tests against the circuit itself, with the magnetising branch in both: locked, R1 + j X1 and j Xm beside
/// R2 + j X2 make up the impedance; at no load the slip counts as 0. Exact for a machine with X1 = X2 that turns at
/// synchronous speed.
///
/// @throws base::error  precondition, when the readings cannot belong together
tested_parameters refined_parameters(units::resistance main, const bench_test& locked, const bench_test& no_load);

/// Effective turns of the start winding over the main one's, from a locked test of the start winding alone:
/// a^2 = (R_locked - R_auxiliary) / R2. Only watts and amperes count: the volts may stand a little below watts over
/// amperes, as readings of a nearly resistive winding do.
double turns_ratio_from_locked(const bench_test& auxiliary_locked, units::resistance auxiliary,
                               units::resistance rotor);

/// The same from the open winding's voltage with the other one on the supply, both ways round:
/// a = sqrt(E_auxiliary / V_main * V_auxiliary / E_main), in which the drop in the leakage cancels (from memory,
/// unverified).
double turns_ratio_from_open(units::voltage on_main, units::voltage induced_in_auxiliary, units::voltage on_auxiliary,
                             units::voltage induced_in_main);

}  // namespace rewound::machine

#ifndef REWOUND_COMPILED
#include <rewound/machine/impl/parameter_tests.hpp>
#endif
