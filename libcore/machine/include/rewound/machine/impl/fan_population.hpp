// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <numbers>
#include <optional>
#include <string_view>
#include <vector>

#include <rewound/base/compiled.hpp>
#include <rewound/base/expect.hpp>
#include <rewound/machine/fan_population.hpp>
#include <rewound/machine/induction_machine.hpp>
#include <rewound/machine/speed_control.hpp>
#include <rewound/machine/tables.hpp>

namespace rewound::machine {

namespace detail {

using fan_row = tables::fan_designs_row;

inline fan_design design_of(const fan_row& row, const machine_kind& kind) {
  constexpr double table_volts = 230.0;
  constexpr double table_hertz = 50.0;
  const double volts = kind.rated_voltage_V / table_volts;
  fan_design out;
  auto& m = out.machine;
  m.phases = kind.phases == 3 ? winding_phases::three_star : winding_phases::single;
  m.poles = kind.poles.value_or(static_cast<int>(row.poles));
  m.rated_voltage_V = kind.rated_voltage_V;
  m.rated_frequency_Hz = kind.rated_frequency_Hz;
  // Ohms go with the voltage squared at equal watts; torque at equal watts with the time of a turn.
  const double ohms = volts * volts;
  m.main_resistance_ohm = ohms * row.main_resistance_ohm;
  m.main_leakage_ohm = ohms * row.main_leakage_ohm;
  m.rotor_resistance_ohm = ohms * row.rotor_resistance_ohm;
  m.rotor_leakage_ohm = ohms * row.rotor_leakage_ohm;
  m.magnetising_ohm = ohms * row.magnetising_ohm;
  m.saturation = {row.saturation, volts * row.knee_V, row.sharpness};
  if (kind.phases == 3) m.saturation.knee_V /= std::numbers::sqrt3;
  m.core_loss_W = row.core_loss_W;
  const double slower = (table_hertz / kind.rated_frequency_Hz) * (m.poles / row.poles);
  out.load.friction_Nm = out.load.breakaway_Nm = slower * row.friction_Nm;
  out.load.square_Nm_s2 = slower * slower * slower * row.fan_Nm_s2 * (kind.fan_on ? 1.0 : bare_shaft_share);
  if (kind.phases == 3) return out;
  auxiliary_winding auxiliary;
  auxiliary.turns_ratio = row.turns_ratio;
  auxiliary.resistance_ohm = ohms * row.auxiliary_resistance_ohm;
  auxiliary.leakage_ohm = row.turns_ratio * row.turns_ratio * m.main_leakage_ohm;
  if (row.capacitance_uF > 0.0)
    auxiliary.capacitance_F = 1e-6 * row.capacitance_uF / ohms * table_hertz / kind.rated_frequency_Hz;
  else auxiliary.switched_out = true;
  if (kind.circuit != record::running_circuit::shaded_pole) m.auxiliary = auxiliary;
  return out;
}

/// A speed whose current is `ratio` times the fastest one's, roughly: what its lead would put in the line.
inline speed_step first_guess(const fan_design& design, record::speed_control control, double ratio) {
  const double deeper = std::clamp(1.0 / ratio, 1.05, 6.0) - 1.0;
  const double impedance = design.machine.main_resistance_ohm + design.machine.magnetising_ohm;
  speed_step step;
  switch (control) {
    case record::speed_control::series_resistor: step.series_resistance_ohm = 0.5 * deeper * impedance; break;
    case record::speed_control::tapped_winding: step.speed_turns = 0.7 * deeper; break;
    case record::speed_control::autotransformer: step.autotransformer_ratio = 1.0 / (1.0 + 0.6 * deeper); break;
    case record::speed_control::series_capacitor:
      // A small one is in resonance with the machine and raises the current; it falls once the capacitor outweighs it.
      step.series_capacitance_F =
          1.0 / (2.0 * std::numbers::pi * design.machine.rated_frequency_Hz * 0.66 * (1.0 + deeper) * impedance);
      break;
    default:
      step.series_reactance_ohm = 0.7 * deeper * impedance;
      step.series_resistance_ohm = 0.1 * step.series_reactance_ohm;
  }
  return step;
}

}  // namespace detail

REWOUND_INLINE void guess_steps(fan_design& design, record::speed_control control,
                                const std::vector<double>& current_ratios) {
  design.steps.assign(current_ratios.size(), {});
  for (std::size_t i = 1; i < current_ratios.size(); ++i)
    design.steps[i] = detail::first_guess(design, control, current_ratios[i] / current_ratios.front());
}

REWOUND_INLINE std::vector<fan_design> fan_population(const machine_kind& kind,
                                                      const std::vector<double>& current_ratios) {
  base::expect(kind.speeds > 0 && current_ratios.size() == kind.speeds, "current_ratios",
               static_cast<double>(current_ratios.size()), "one a speed");
  // Three phases need no capacitor, whatever circuit is written.
  const bool with_capacitor = kind.circuit == record::running_circuit::permanent_capacitor && kind.phases != 3;
  const bool without = kind.circuit == record::running_circuit::start_winding_switched || kind.phases == 3 ||
                       kind.circuit == record::running_circuit::shaded_pole ||
                       kind.circuit == record::running_circuit::three_phase;
  std::vector<fan_design> out;
  for (const auto& row : tables::fan_designs) {
    const bool has_capacitor = row.capacitance_uF > 0.0;
    if ((with_capacitor && !has_capacitor) || (without && has_capacitor)) continue;
    fan_design design = detail::design_of(row, kind);
    guess_steps(design, kind.control, current_ratios);
    out.push_back(std::move(design));
  }
  return out;
}

}  // namespace rewound::machine
