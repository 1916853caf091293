// SPDX-License-Identifier: MIT
#pragma once

#include <optional>

#include <rewound/machine/conductor.hpp>
#include <rewound/measurement/instrument.hpp>
#include <rewound/measurement/uncertain.hpp>
#include <rewound/units/quantity.hpp>
#include <rewound/units/temperature.hpp>

namespace rewound::checks {

/// What the test leads add to a reading: taken off, and doubted by a standard uncertainty.
struct lead_error {
  units::resistance value = units::ohms(0.0);
  units::resistance standard_uncertainty = units::ohms(0.0);
};

/// A winding resistance at a winding temperature, and the meter that read it.
struct resistance_reading {
  units::resistance resistance;  ///< as the meter showed it, leads included
  units::temperature winding;
  units::temperature_difference winding_uncertainty;  ///< standard uncertainty
  measurement::instrument<units::resistance> ohmmeter;
  lead_error leads = {};

  /// Of the winding alone. The caller sees to it that the leads have less than the reading.
  units::resistance of_winding() const { return resistance - leads.value; }
};

/// What the section should have: a design value, taken as exact; an earlier reading of the same section; a value
/// computed from its wire. All that are there are compared with; the first of them is the one to judge by.
struct resistance_input {
  resistance_reading measured;
  std::optional<resistance_reading> earlier;
  std::optional<units::resistance> expected;
  units::temperature expected_at = units::celsius(20.0);
  record::conductor_material material = record::conductor_material::copper;
  double copper_K = machine::copper_constant_K;
  std::optional<measurement::uncertain<units::resistance>> from_wire = {};  ///< at 20 degC
};

/// Measured against one expectation.
struct resistance_comparison {
  measurement::uncertain<units::resistance> expected_at_20_C;
  measurement::uncertain<double> deviation_percent;  ///< measured over expected, less one
};

enum class resistance_basis { nothing, design, earlier, wire };

struct resistance_result {
  measurement::uncertain<units::resistance> at_20_C;
  measurement::uncertain<units::resistance> at_25_C;
  std::optional<units::resistance> expected_at_20_C;                ///< of the basis
  std::optional<measurement::uncertain<double>> deviation_percent;  ///< from the basis
  resistance_basis basis = resistance_basis::nothing;
  std::optional<resistance_comparison> against_design = {};
  std::optional<resistance_comparison> against_earlier = {};
  std::optional<resistance_comparison> against_wire = {};
};

/// Takes the leads off a winding resistance, brings it to 20 and 25 degC and compares it with the design value, the
/// earlier visit and the wire.
resistance_result resistance(const resistance_input& in);

}  // namespace rewound::checks

#ifndef REWOUND_COMPILED
#include <rewound/checks/impl/resistance.hpp>
#endif
