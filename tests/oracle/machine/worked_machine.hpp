// SPDX-License-Identifier: MIT
#pragma once

#include <oracle_table.hpp>
#include <rewound/machine/running_point.hpp>

// Machines of worked examples, from the rows of reference/oracles/machines.
namespace rewound::testing {

/// R1, X1, R2, X2, Xm, poles, V, f; with a, Ra, Xa, C where the row has a start winding.
inline machine::induction_machine worked_machine(const row_inputs& in) {
  machine::induction_machine m;
  m.poles = static_cast<int>(in("poles"));
  m.rated_voltage_V = in("V");
  m.rated_frequency_Hz = in("f");
  m.main_resistance_ohm = in("R1");
  m.main_leakage_ohm = in("X1");
  m.rotor_resistance_ohm = in("R2");
  m.rotor_leakage_ohm = in("X2");
  m.magnetising_ohm = in("Xm");
  if (!in.has("a")) return m;
  machine::auxiliary_winding a;
  a.turns_ratio = in("a");
  a.resistance_ohm = in("Ra");
  a.leakage_ohm = in("Xa");
  a.capacitance_F = in("C");
  m.auxiliary = a;
  return m;
}

/// The worked machine at the row's slip and voltage, nothing on its shaft.
inline machine::operating_point worked_point(const row_inputs& in) {
  return machine::point_at_slip(worked_machine(in), {}, {}, units::volts(in("V")), units::hertz(in("f")), in("s"));
}

/// Output of the worked machine after the row's losses "lost" of friction, windage and core.
inline double output_after_losses_W(const row_inputs& in) {
  return units::in_watts(worked_point(in).output) - in("lost");
}

inline double shaft_torque_after_losses_Nm(const row_inputs& in) {
  return output_after_losses_W(in) / worked_point(in).speed.value();
}

}  // namespace rewound::testing
