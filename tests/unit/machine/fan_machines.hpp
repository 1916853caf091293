// SPDX-License-Identifier: MIT
#pragma once

#include <rewound/machine/running_point.hpp>

// Machines that the tests of the model share.
namespace rewound::testing {

/// A fan-sized capacitor machine, 230 V 50 Hz 6 poles: ohms of B. S. Guru, H. R. Hiziroglu, Electric Machinery and
/// Transformers, example 10.3, with a rotor of higher resistance, saturating iron and core loss (invented).
inline machine::induction_machine capacitor_machine() {
  machine::induction_machine m;
  m.poles = 6;
  m.main_resistance_ohm = 34.14;
  m.main_leakage_ohm = 35.9;
  m.rotor_resistance_ohm = 60.0;
  m.rotor_leakage_ohm = 29.32;
  m.magnetising_ohm = 248.59;
  m.saturation = {0.25, 200.0, 6.0, 2.0};
  m.core_loss_W = 12.0;
  machine::auxiliary_winding a;
  a.turns_ratio = 1.73;
  a.resistance_ohm = 149.78;
  a.leakage_ohm = 107.4;
  a.capacitance_F = 4e-6;
  m.auxiliary = a;
  return m;
}

/// A machine with a switched start winding, 115 V 60 Hz 4 poles: ohms of McPherson, examples 6.1 and 6.2.
inline machine::induction_machine switched_machine() {
  machine::induction_machine m;
  m.rated_voltage_V = 115.0;
  m.rated_frequency_Hz = 60.0;
  m.main_resistance_ohm = 1.9;
  m.main_leakage_ohm = m.rotor_leakage_ohm = 2.6;
  m.rotor_resistance_ohm = 3.6;
  m.magnetising_ohm = 56.0;
  machine::auxiliary_winding a;
  a.turns_ratio = 1.6;
  a.resistance_ohm = 12.0;
  a.leakage_ohm = 6.5;
  a.capacitance_F = 133e-6;
  a.switched_out = true;
  m.auxiliary = a;
  return m;
}

/// The main winding of switched_machine() alone.
inline machine::induction_machine main_only() {
  auto m = switched_machine();
  m.auxiliary.reset();
  return m;
}

inline units::voltage rated_voltage(const machine::induction_machine& m) { return units::volts(m.rated_voltage_V); }
inline units::frequency rated_frequency(const machine::induction_machine& m) {
  return units::hertz(m.rated_frequency_Hz);
}

/// A fan that the machine drives at the slip given at rated voltage, 3 % of the torque in the bearings.
inline machine::shaft_load fan_at_slip(const machine::induction_machine& m, double slip) {
  const auto p = machine::point_at_slip(m, {}, {}, rated_voltage(m), rated_frequency(m), slip);
  return machine::fan_load(units::in_newton_metres(p.developed_torque), p.speed.value(), 0.03);
}

/// capacitor_machine() with its fan and three speeds of a tapped winding.
inline machine::fan_design tapped_fan() {
  machine::fan_design d;
  d.machine = capacitor_machine();
  d.load = fan_at_slip(d.machine, 0.12);
  d.steps.resize(3);
  d.steps[1].speed_turns = 0.3;
  d.steps[2].speed_turns = 0.8;
  return d;
}

}  // namespace rewound::testing
