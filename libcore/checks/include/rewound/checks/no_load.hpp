// SPDX-License-Identifier: MIT
#pragma once

#include <optional>
#include <vector>

#include <rewound/measurement/uncertain.hpp>
#include <rewound/units/quantity.hpp>

namespace rewound::checks {

/// One reading of a machine that runs with a bare shaft; the standard uncertainties are those of each reading by
/// itself.
struct no_load_reading {
  units::voltage voltage;
  units::current current;
  units::power power;  ///< of all phases
  units::voltage voltage_uncertainty;
  units::current current_uncertainty;
  units::power power_uncertainty;
};

struct no_load_input {
  std::vector<no_load_reading> readings;
  units::voltage rated_voltage;
  /// R of the resistive loss I^2 R by the current read: single phase R1, with R2 / 4 where the rotor's resistance is
  /// known; three phases 1.5 times the resistance between two terminals.
  units::resistance loss_resistance;
  double loss_uncertainty =
      0.0;  ///< relative, of I^2 R, common to all readings: resistance, temperature, ammeter's gain
  double power_gain_uncertainty = 0.0;  ///< relative, of the wattmeter, common to all readings
  double straight_to = 0.8;             ///< highest voltage of the straight part, over the rated one
  double near_rating = 0.05;   ///< how far from the rated voltage the core loss may be told, over the rated one
  double exponent_low = 2.0;   ///< what the core loss's exponent of the voltage may be, from
  double exponent_high = 2.0;  ///< and to
};

enum class no_load_status {
  separated,
  too_few,       ///< fewer than three readings on the straight part
  not_told,      ///< the intercept's interval holds 0
  below_nothing  ///< the intercept lies below 0: no friction does that
};

struct no_load_result {
  no_load_status status = no_load_status::too_few;
  int used = 0;         ///< readings on the straight part
  units::voltage from;  ///< its lowest and highest voltage
  units::voltage to;
  measurement::uncertain<units::power> friction_and_windage{};  ///< the intercept, at the speed of no load
  std::optional<measurement::uncertain<units::power>> core;     ///< at the reading nearest to the rated voltage
  units::voltage core_at;
};

/// Core loss apart from friction and windage at no load: power without I^2 R is a straight line over the square of the
/// voltage as long as the iron is not saturated; at no voltage friction and windage remain, and at the rated voltage
/// what lies above them is core loss.
///
/// The line takes the readings from the current's minimum up to `straight_to`; readings are taken off its top while it
/// bends, down to three. Where nothing but the current is known of a second winding, its loss stays in the core loss.
///
/// Source: IEEE 112, IEEE 114 (no-load test; from memory, unverified), IEC 60034-2-1 6.1.2.5 (from memory, unverified);
/// single phase with R2 / 4: the double revolving field at no load (textbooks; oracle in reference/oracles/physics).
///
/// @throws base::error (precondition) for a rated voltage not above 0, or a reading whose power has no uncertainty
no_load_result no_load(const no_load_input& in);

}  // namespace rewound::checks

#ifndef REWOUND_COMPILED
#include <rewound/checks/impl/no_load.hpp>
#endif
