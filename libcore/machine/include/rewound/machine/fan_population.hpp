// SPDX-License-Identifier: MIT
#pragma once

// Designs that a machine of sparse nameplate may be like: reference/machines/fan_designs.table, made by
// tools/population/fan_designs.py.

#include <cstddef>
#include <optional>
#include <vector>

#include <rewound/machine/induction_machine.hpp>
#include <rewound/machine/speed_control.hpp>
#include <rewound/machine/tables.hpp>

namespace rewound::machine {

/// What is known of a machine before it runs.
struct machine_kind {
  record::running_circuit circuit = record::running_circuit::unknown;
  record::speed_control control = record::speed_control::unknown;
  int phases = 1;
  double rated_voltage_V = 230.0;
  double rated_frequency_Hz = 50.0;
  std::optional<int> poles;
  bool fan_on = true;
  std::size_t speeds = 1;
};

/// With its fan off a shaft still turns the air a little: this share of what the fan asks for (common practice, no
/// source).
inline constexpr double bare_shaft_share = 0.02;

/// The population's designs of a kind, scaled to its rating.
///
/// @param current_ratios  current of each speed over that of the fastest, about; gives its speed steps a first guess
/// @throws base::error (precondition) without speeds, or when there are not as many ratios
std::vector<fan_design> fan_population(const machine_kind& kind, const std::vector<double>& current_ratios);

/// Gives a design's speeds a first guess at what its control puts in the line.
///
/// @param current_ratios  current of each speed over that of the fastest, about
void guess_steps(fan_design& design, record::speed_control control, const std::vector<double>& current_ratios);

}  // namespace rewound::machine

#ifndef REWOUND_COMPILED
#include <rewound/machine/impl/fan_population.hpp>
#endif
