// SPDX-License-Identifier: MIT
#pragma once

#include <optional>
#include <vector>

#include <rewound/measurement/instrument.hpp>
#include <rewound/measurement/uncertain.hpp>
#include <rewound/record/insulation_class.hpp>
#include <rewound/units/quantity.hpp>
#include <rewound/units/temperature.hpp>

namespace rewound::checks {

struct insulation_reading {
  units::duration time;  ///< since the full test voltage was reached
  units::resistance resistance;
};

struct insulation_input {
  std::vector<insulation_reading> readings;
  units::temperature winding;
  units::temperature_difference winding_uncertainty;  ///< standard uncertainty
  measurement::instrument<units::resistance> tester;
  /// Relative standard uncertainty of each reading beside the tester's digits, independent from reading to reading:
  /// what a tester of unknown accuracy adds, whose ranges may differ.
  double reading_spread = 0.0;
  units::duration time_limit = units::seconds(0.0);  ///< a reading is taken within this of its time
  double divisor = 1.0;  ///< of the winding's reading, where only a part of the winding was tested (rules give it)
  /// Stands in where no reading was taken at one minute: of the time curve, tester's gain included.
  std::optional<measurement::uncertain<units::resistance>> fitted_one_minute = {};
};

/// Insulation resistance at one minute brought to 40 degC, and the ratios of the time curve. What was not read is
/// absent.
struct insulation_result {
  std::optional<measurement::uncertain<units::resistance>> at_one_minute;  ///< of the whole winding, divisor applied
  bool one_minute_read = true;                                             ///< false: from the time curve
  std::optional<measurement::uncertain<units::resistance>> thermosetting_at_40;
  std::optional<measurement::uncertain<units::resistance>> thermoplastic_at_40;
  double thermosetting_temperature_u = 0.0;  ///< relative part of the above that the winding's temperature makes
  double thermoplastic_temperature_u = 0.0;
  double independent_u = 0.0;    ///< relative part of at_one_minute that no other reading shares
  bool correction_valid = true;  ///< 10 to 85 degC, the range of the thermosetting formula
  std::optional<measurement::uncertain<double>> polarization;  ///< R(600 s) / R(60 s)
  std::optional<measurement::uncertain<double>> absorption;    ///< R(60 s) / R(30 s)
  std::optional<measurement::uncertain<double>> from_ten;      ///< R(60 s) / R(10 s)
  std::optional<units::resistance> at_ten_seconds;
};

/// Factor that brings an insulation resistance from `winding` to 40 degC.
///
/// Thermoplastic: 0.5^((40 - T) / 10) (IEEE 43-2000 and 2013, 6.3). Thermosetting: exp(-4230 (1/(T+273) - 1/313))
/// from 40 to 85 degC and exp(-1245 (1/(T+273) - 1/313)) from 10 to 40 degC (IEEE 43-2013 6.3; the two
/// coefficients from memory, unverified; 273 and not 273.15 stands in the formula). Outside that range the
/// nearer branch is carried on and insulation_result::correction_valid is false.
double factor_to_40_C(units::temperature winding, record::insulation_system system);

/// Relative standard uncertainty of one reading, as far as no other reading of the test shares it: digits, spread, and
/// the time at which it was taken, through the slope of the curve round it.
double independent_uncertainty(const insulation_input& in, std::size_t i);

/// Brings one circuit's insulation readings to reference conditions.
insulation_result insulation(const insulation_input& in);

}  // namespace rewound::checks

#ifndef REWOUND_COMPILED
#include <rewound/checks/impl/insulation.hpp>
#endif
