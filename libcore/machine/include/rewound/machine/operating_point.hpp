// SPDX-License-Identifier: MIT
#pragma once

#include <optional>
#include <rewound/units/quantity.hpp>
#include <rewound/units/rotation.hpp>
#include <string_view>

namespace rewound::machine {

enum class running_state {
  runs,            ///< at a stable speed
  does_not_start,  ///< its torque at rest does not exceed what the shaft resists with
  stalled,         ///< it turned, and no stable speed is left to it
  dead             ///< no current: the lead is broken or there is no voltage
};

constexpr std::string_view name(running_state state) {
  switch (state) {
    case running_state::runs: return "runs";
    case running_state::does_not_start: return "does_not_start";
    case running_state::stalled: return "stalled";
    case running_state::dead: return "dead";
  }
  return "unknown";
}

/// Where the watts go; with the output they make up the input.
struct loss_split {
  units::power stator_copper;  ///< all windings, closed loops among them
  units::power control;        ///< resistor, or that of the choke
  units::power rotor_copper;
  units::power core;
  units::power friction_and_windage;  ///< the load's friction and linear part

  units::power total() const { return stator_copper + control + rotor_copper + core + friction_and_windage; }
};

/// Slip and gap voltage at which a machine settles.
struct settled_point {
  double slip = 1.0;
  double gap_V = 0.0;
};

/// A machine's steady state on one speed at one voltage. At rest slip is 1 and nothing is put out.
struct operating_point {
  running_state state = running_state::dead;
  double slip = 1.0;
  units::angular_velocity speed;  ///< of the shaft; units::in_rpm()
  units::current line_current;
  double line_phase_rad = 0.0;  ///< of the line current against the line voltage, below 0 when it lags
  units::power input;
  double power_factor = 0.0;
  units::torque developed_torque;  ///< of both fields together, friction included
  units::torque shaft_torque;      ///< useful: what the load's constant and square part take
  units::power output;
  double efficiency = 0.0;
  loss_split losses;
  units::voltage gap_voltage;   ///< induced in the main winding, the forward field's and the backward's summed
  double flux_ratio = 0.0;      ///< gap voltage per hertz over rated voltage per rated hertz, of a phase
  units::current main_current;  ///< in the main winding, of one phase
  std::optional<units::current> auxiliary_current;  ///< where a start winding is connected
  std::optional<units::voltage> capacitor_voltage;  ///< where one is in the auxiliary branch
};

inline settled_point settled(const operating_point& at) { return {at.slip, units::in_volts(at.gap_voltage)}; }

}  // namespace rewound::machine
