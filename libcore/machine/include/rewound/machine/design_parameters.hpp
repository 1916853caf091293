// SPDX-License-Identifier: MIT
#pragma once

// A design's parameters as one list of logarithms, so that a design can be moved, fitted and spread.

#include <array>
#include <cstddef>
#include <string_view>

#include <rewound/machine/induction_machine.hpp>

namespace rewound::machine {

/// What a design of given circuit and speed control is made of, its speed steps apart.
enum class design_parameter {
  impedance,  ///< all ohms at once, and with them the load: scales currents and watts, leaves the speed
  main_resistance,
  leakage,  ///< of stator and rotor alike
  rotor_resistance,
  magnetising,
  knee,
  saturation,
  core_loss,
  turns_ratio,
  auxiliary_resistance,
  capacitance,
  fan,      ///< torque of the fan
  friction  ///< of the bearings
};

inline constexpr std::size_t design_parameter_count = 13;

inline constexpr std::array<std::string_view, design_parameter_count> design_parameter_names{
    "impedance",  "main_resistance", "leakage",     "rotor_resistance",     "magnetising", "knee",
    "saturation", "core_loss",       "turns_ratio", "auxiliary_resistance", "capacitance", "fan",
    "friction"};

constexpr std::string_view name(design_parameter value) {
  return design_parameter_names[static_cast<std::size_t>(value)];
}

/// Multiplies one parameter by exp(log_change). A parameter that the design lacks leaves it as it is.
void move_parameter(fan_design& design, design_parameter which, double log_change);

/// Multiplies what a speed's lead puts in the line by exp(log_change): choke, resistor, turns of the speed winding; of
/// an autotransformer the logarithm of its ratio, of a capacitor its reactance.
void move_step(speed_step& step, double log_change);

}  // namespace rewound::machine

#ifndef REWOUND_COMPILED
#include <rewound/machine/impl/design_parameters.hpp>
#endif
