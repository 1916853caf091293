// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cstddef>
#include <optional>
#include <vector>

// The parameters of a small induction machine, of its speed control and of what it turns. All are plain numbers in SI
// units; ohms are full values seen from the main winding (of one phase winding of a three-phase machine) at rated
// frequency, and scale with the supply's frequency where they are reactances.
namespace rewound::machine {

/// Magnetising reactance against the gap voltage E: Xm / (1 + share (E / knee)^sharpness), E / knee counted up to
/// `furthest`. A convenient form, common practice, no source. E is the sum of what the forward and the backward
/// field induce in the main winding, the long axis of their ellipse; the knee goes with frequency.
struct saturation_curve {
  double share = 0.0;      ///< 0: the iron is linear
  double knee_V = 1.0;     ///< at rated frequency
  double sharpness = 6.0;  ///< 4 to 8 with the iron of small machines
  double furthest = 2.0;   ///< beyond it the reactance stays
};

/// Turns of a coil closed on themselves: they leave the coil and form a loop of their own on the same axis.
struct shorted_turns {
  double share = 0.0;                      ///< of the coil's turns; 0: none
  std::optional<double> resistance_share;  ///< of the coil's resistance; the turns' share where not given
  std::optional<double> leakage_share;  ///< of the coil's leakage: from share^2, where all turns have it in common, to
                                        ///< share, where each has its own; share^2 poles, at most share, where not
                                        ///< given: the turns lie in the coil of one pole and share its slots

  /// Share of the coil's resistance that has left it with the turns.
  double resistance_lost() const { return resistance_share.value_or(share); }
};

/// The start winding, a quarter turn of the field away from the main one.
struct auxiliary_winding {
  double turns_ratio = 1.0;  ///< effective turns over the main winding's
  double resistance_ohm = 0.0;
  double leakage_ohm = 0.0;
  std::optional<double> capacitance_F;  ///< in series with the winding
  bool switched_out = false;            ///< by a switch once it runs; otherwise it stays connected
  shorted_turns shorted;
};

/// How the supply's phases meet the windings. Star and delta: balanced, the forward field alone.
enum class winding_phases { single, three_star, three_delta };

struct induction_machine {
  winding_phases phases = winding_phases::single;
  int poles = 4;
  double rated_voltage_V = 230.0;  ///< between lines where there are three
  double rated_frequency_Hz = 50.0;
  double main_resistance_ohm = 0.0;
  double main_leakage_ohm = 0.0;
  double rotor_resistance_ohm = 0.0;
  double rotor_leakage_ohm = 0.0;
  double magnetising_ohm = 0.0;  ///< unsaturated
  saturation_curve saturation;
  double core_loss_W = 0.0;  ///< with the rated voltage (of a phase) in the gap; goes with the gap voltage squared
  shorted_turns shorted;     ///< of the main winding
  std::optional<auxiliary_winding> auxiliary;  ///< of a single-phase machine
};

/// What one speed's lead puts between the line and the machine, ahead of both windings. With three phases the series
/// parts stand in series with each phase winding.
struct speed_step {
  double series_resistance_ohm = 0.0;  ///< resistor, or that of the choke
  double series_reactance_ohm = 0.0;   ///< choke
  std::optional<double> series_capacitance_F;
  double speed_turns = 0.0;                    ///< of a speed winding on the main axis, over the main winding's
  std::optional<double> speed_resistance_ohm;  ///< the main winding's times speed_turns where not given (same wire)
  std::optional<double> speed_leakage_ohm;     ///< the main winding's times speed_turns squared where not given
  double speed_leakage_in_common = 1.0;        ///< with the main winding, whose slots it shares: 1 all, 0 none
  shorted_turns shorted;                       ///< of the speed winding
  double autotransformer_ratio = 1.0;          ///< machine's voltage over the line's; the transformer itself is ideal
  bool open = false;                           ///< the lead is broken
};

/// Torque that the shaft asks for at the speed w (rad/s): friction + constant + linear w + square w^2.
struct shaft_load {
  double friction_Nm = 0.0;   ///< of the bearings, lost
  double linear_Nm_s = 0.0;   ///< viscous, lost
  double constant_Nm = 0.0;   ///< useful
  double square_Nm_s2 = 0.0;  ///< of a fan, useful
  double breakaway_Nm = 0.0;  ///< what standing parts resist with, friction included; counted as friction_Nm +
                              ///< constant_Nm where it is below them

  /// Torque that a standing shaft resists with.
  double at_rest_Nm() const { return std::max(breakaway_Nm, friction_Nm + constant_Nm); }
};

/// A machine with its speeds, fastest first, and its load.
struct fan_design {
  induction_machine machine;
  std::vector<speed_step> steps{1};
  shaft_load load;
  double supply_frequency_ratio = 1.0;  ///< supply's frequency over the rated one
};

/// Load of a fan that asks for the torque given at the speed given (rad/s), `friction_share` of it in the bearings.
inline shaft_load fan_load(double torque_Nm, double speed_rad_s, double friction_share) {
  shaft_load load;
  load.friction_Nm = load.breakaway_Nm = torque_Nm * friction_share;
  load.square_Nm_s2 = torque_Nm * (1.0 - friction_share) / (speed_rad_s * speed_rad_s);
  return load;
}

}  // namespace rewound::machine
