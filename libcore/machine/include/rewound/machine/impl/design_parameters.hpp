// SPDX-License-Identifier: MIT
#pragma once

#include <array>
#include <cmath>
#include <cstddef>
#include <string_view>

#include <rewound/base/compiled.hpp>
#include <rewound/machine/design_parameters.hpp>
#include <rewound/machine/induction_machine.hpp>

namespace rewound::machine {

REWOUND_INLINE void move_parameter(fan_design& design, design_parameter which, double log_change) {
  const double factor = std::exp(log_change);
  auto& m = design.machine;
  auto& load = design.load;
  switch (which) {
    case design_parameter::impedance:
      for (double* ohms : {&m.main_resistance_ohm, &m.main_leakage_ohm, &m.rotor_resistance_ohm, &m.rotor_leakage_ohm,
                           &m.magnetising_ohm})
        *ohms *= factor;
      m.core_loss_W /= factor;
      if (m.auxiliary) {
        m.auxiliary->resistance_ohm *= factor;
        m.auxiliary->leakage_ohm *= factor;
        if (m.auxiliary->capacitance_F) *m.auxiliary->capacitance_F /= factor;
      }
      for (auto& step : design.steps) {
        step.series_resistance_ohm *= factor;
        step.series_reactance_ohm *= factor;
        if (step.series_capacitance_F) *step.series_capacitance_F /= factor;
        if (step.speed_resistance_ohm) *step.speed_resistance_ohm *= factor;
        if (step.speed_leakage_ohm) *step.speed_leakage_ohm *= factor;
      }
      for (double* torque :
           {&load.friction_Nm, &load.linear_Nm_s, &load.constant_Nm, &load.square_Nm_s2, &load.breakaway_Nm})
        *torque /= factor;
      break;
    case design_parameter::main_resistance: m.main_resistance_ohm *= factor; break;
    case design_parameter::leakage:
      m.main_leakage_ohm *= factor;
      m.rotor_leakage_ohm *= factor;
      if (m.auxiliary) m.auxiliary->leakage_ohm *= factor;
      break;
    case design_parameter::rotor_resistance: m.rotor_resistance_ohm *= factor; break;
    case design_parameter::magnetising: m.magnetising_ohm *= factor; break;
    case design_parameter::knee: m.saturation.knee_V *= factor; break;
    case design_parameter::saturation: m.saturation.share *= factor; break;
    case design_parameter::core_loss: m.core_loss_W *= factor; break;
    case design_parameter::turns_ratio:
      if (m.auxiliary) m.auxiliary->turns_ratio *= factor;
      break;
    case design_parameter::auxiliary_resistance:
      if (m.auxiliary) m.auxiliary->resistance_ohm *= factor;
      break;
    case design_parameter::capacitance:
      if (m.auxiliary && m.auxiliary->capacitance_F) *m.auxiliary->capacitance_F *= factor;
      break;
    case design_parameter::fan: load.square_Nm_s2 *= factor; break;
    case design_parameter::friction:
      load.friction_Nm *= factor;
      load.breakaway_Nm *= factor;
      break;
  }
}

REWOUND_INLINE void move_step(speed_step& step, double log_change) {
  const double factor = std::exp(log_change);
  step.series_resistance_ohm *= factor;
  step.series_reactance_ohm *= factor;
  step.speed_turns *= factor;
  step.autotransformer_ratio = std::pow(step.autotransformer_ratio, factor);
  if (step.series_capacitance_F) *step.series_capacitance_F /= factor;
}

}  // namespace rewound::machine
