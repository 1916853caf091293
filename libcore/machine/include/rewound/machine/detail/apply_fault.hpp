// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>
#include <cstddef>
#include <rewound/base/expect.hpp>
#include <rewound/machine/induction_machine.hpp>
#include <rewound/machine/running_point.hpp>
#include <utility>

namespace rewound::machine::detail {

/// Whether the slower of two speeds has more in its line than the faster.
inline bool has_control(const speed_step& faster, const speed_step& slower) {
  return slower.series_reactance_ohm > faster.series_reactance_ohm ||
         slower.series_resistance_ohm > faster.series_resistance_ohm || slower.series_capacitance_F ||
         slower.speed_turns > faster.speed_turns || slower.autotransformer_ratio < faster.autotransformer_ratio;
}

/// All windings with `factor` of their turns of the same wire; the choke, the capacitor and the supply stay.
inline void scale_turns(fan_design& design, double factor) {
  const double square = factor * factor;
  auto& m = design.machine;
  m.main_resistance_ohm *= factor;
  m.main_leakage_ohm *= square;
  m.rotor_resistance_ohm *= square;
  m.rotor_leakage_ohm *= square;
  m.magnetising_ohm *= square;
  m.saturation.knee_V *= factor;
  m.core_loss_W /= square;
  if (m.auxiliary) {
    m.auxiliary->resistance_ohm *= factor;
    m.auxiliary->leakage_ohm *= square;
  }
  for (auto& step : design.steps) {
    if (step.speed_resistance_ohm) *step.speed_resistance_ohm *= factor;
    if (step.speed_leakage_ohm) *step.speed_leakage_ohm *= square;
  }
}

/// The same of the main winding alone: start and speed windings have the turns and the wire that they had.
inline void scale_main_turns(fan_design& design, double factor) {
  const auto auxiliary = design.machine.auxiliary;
  const auto steps = design.steps;
  scale_turns(design, factor);
  design.machine.auxiliary = auxiliary;
  if (auxiliary) design.machine.auxiliary->turns_ratio /= factor;
  design.steps = steps;
  for (auto& step : design.steps) step.speed_turns /= factor;
}

inline void scale_resistance(fan_design& design, double factor) {
  design.machine.main_resistance_ohm *= factor;
  if (design.machine.auxiliary) design.machine.auxiliary->resistance_ohm *= factor;
  for (auto& step : design.steps)
    if (step.speed_resistance_ohm) *step.speed_resistance_ohm *= factor;
}

/// The main winding alone of other wire.
inline void scale_main_resistance(fan_design& design, double factor) {
  for (auto& step : design.steps)
    if (step.speed_turns > 0.0 && !step.speed_resistance_ohm)
      step.speed_resistance_ohm = design.machine.main_resistance_ohm * step.speed_turns;
  design.machine.main_resistance_ohm *= factor;
}

/// The section between the fastest speed and the next, `share` of it shorted, as every speed feels it that uses it. A
/// choke loses turns of its one core; of a resistor the ohms go; an autotransformer's other turns share the line's
/// voltage; the turns of a speed winding, which lie in the field, carry a current of their own.
inline void short_section(fan_design& design, double share) {
  const speed_step first = design.steps[0], next = design.steps[1];
  const double choke = std::sqrt(next.series_reactance_ohm) - std::sqrt(first.series_reactance_ohm);
  const double ohms = next.series_resistance_ohm - first.series_resistance_ohm;
  const double lost = share * (first.autotransformer_ratio - next.autotransformer_ratio);
  const double turns = next.speed_turns - first.speed_turns;
  for (std::size_t k = 1; k < design.steps.size(); ++k) {
    auto& step = design.steps[k];
    if (choke > 0.0) {
      const double left = std::max(0.0, std::sqrt(step.series_reactance_ohm) - share * choke);
      step.series_reactance_ohm = left * left;
    }
    if (ohms > 0.0) step.series_resistance_ohm = std::max(0.0, step.series_resistance_ohm - share * ohms);
    if (step.series_capacitance_F) *step.series_capacitance_F /= 1.0 - share;
    if (lost > 0.0) step.autotransformer_ratio /= 1.0 - lost;
    if (turns > 0.0 && step.speed_turns > 0.0) step.shorted.share = share * turns / step.speed_turns;
  }
}

/// `share` of the torque at rated voltage and the fastest speed, in bearings that are tight at rest too.
inline void add_friction(fan_design& design, double share) {
  const auto rated = running_point_when_turning(design, 0, units::volts(design.machine.rated_voltage_V));
  base::expect(rated.state == running_state::runs, "design", std::string(name(rated.state)),
               "one that runs at its rated voltage");
  const double added = share * units::in_newton_metres(rated.developed_torque);
  const double breakaway = design.load.at_rest_Nm();
  design.load.friction_Nm += added;
  design.load.breakaway_Nm = breakaway + added;
}

}  // namespace rewound::machine::detail
