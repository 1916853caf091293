// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>
#include <rewound/base/expect.hpp>
#include <rewound/machine/induction_machine.hpp>

namespace rewound::machine::detail {

inline void expect_above(double value, const char* name) {
  base::expect(std::isfinite(value) && value > 0.0, name, value, "a finite number above 0");
}

inline void expect_not_below(double value, const char* name) {
  base::expect(std::isfinite(value) && value >= 0.0, name, value, "a finite number, 0 or more");
}

inline void expect_share(double value, const char* name) {
  base::expect(value >= 0.0 && value < 1.0, name, value, "a share from 0 to below 1");
}

inline void expect_valid(const shorted_turns& shorted) {
  expect_share(shorted.share, "shorted share");
  if (shorted.share == 0.0) return;
  const double r = shorted.resistance_lost();
  base::expect(r > 0.0 && r < 1.0, "shorted resistance_share", r, "a share between 0 and 1");
  const double least = shorted.share * shorted.share;
  const double x = shorted.leakage_share.value_or(shorted.share);
  base::expect(x >= least && x <= shorted.share, "shorted leakage_share", x,
               "from the square of the turns' share to it");
}

inline void expect_valid(const auxiliary_winding& winding) {
  expect_above(winding.turns_ratio, "auxiliary turns_ratio");
  expect_above(winding.resistance_ohm, "auxiliary resistance_ohm");
  expect_not_below(winding.leakage_ohm, "auxiliary leakage_ohm");
  if (winding.capacitance_F) expect_above(*winding.capacitance_F, "auxiliary capacitance_F");
  expect_valid(winding.shorted);
}

inline void expect_valid(const induction_machine& m) {
  base::expect(m.poles >= 2 && m.poles % 2 == 0, "poles", static_cast<double>(m.poles), "an even number, 2 or more");
  expect_above(m.rated_voltage_V, "rated_voltage_V");
  expect_above(m.rated_frequency_Hz, "rated_frequency_Hz");
  expect_above(m.main_resistance_ohm, "main_resistance_ohm");
  expect_not_below(m.main_leakage_ohm, "main_leakage_ohm");
  expect_above(m.rotor_resistance_ohm, "rotor_resistance_ohm");
  expect_not_below(m.rotor_leakage_ohm, "rotor_leakage_ohm");
  expect_above(m.magnetising_ohm, "magnetising_ohm");
  expect_not_below(m.core_loss_W, "core_loss_W");
  expect_not_below(m.saturation.share, "saturation share");
  expect_above(m.saturation.knee_V, "saturation knee_V");
  expect_above(m.saturation.sharpness, "saturation sharpness");
  expect_above(m.saturation.furthest, "saturation furthest");
  expect_valid(m.shorted);
  const bool single = m.phases == winding_phases::single;
  base::expect(single || (!m.auxiliary && m.shorted.share == 0.0), "phases", 3.0,
               "one where there is a start winding or shorted turns: three are balanced");
  if (m.auxiliary) expect_valid(*m.auxiliary);
}

inline void expect_valid(const speed_step& step) {
  expect_not_below(step.series_resistance_ohm, "series_resistance_ohm");
  expect_not_below(step.series_reactance_ohm, "series_reactance_ohm");
  if (step.series_capacitance_F) expect_above(*step.series_capacitance_F, "series_capacitance_F");
  expect_not_below(step.speed_turns, "speed_turns");
  expect_above(step.speed_resistance_ohm.value_or(1.0), "speed_resistance_ohm");
  expect_not_below(step.speed_leakage_ohm.value_or(0.0), "speed_leakage_ohm");
  base::expect(step.speed_leakage_in_common >= 0.0 && step.speed_leakage_in_common <= 1.0, "speed_leakage_in_common",
               step.speed_leakage_in_common, "a share from 0 to 1");
  expect_valid(step.shorted);
  expect_above(step.autotransformer_ratio, "autotransformer_ratio");
}

inline void expect_valid(const shaft_load& load) {
  expect_not_below(load.friction_Nm, "friction_Nm");
  expect_not_below(load.linear_Nm_s, "linear_Nm_s");
  expect_not_below(load.constant_Nm, "constant_Nm");
  expect_not_below(load.square_Nm_s2, "square_Nm_s2");
  expect_not_below(load.breakaway_Nm, "breakaway_Nm");
}

}  // namespace rewound::machine::detail
