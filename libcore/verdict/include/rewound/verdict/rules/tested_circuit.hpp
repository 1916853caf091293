// SPDX-License-Identifier: MIT
#pragma once

#include <optional>

#include <rewound/checks/absorption.hpp>
#include <rewound/checks/dew_point.hpp>
#include <rewound/checks/insulation.hpp>
#include <rewound/checks/insulation_curve.hpp>
#include <rewound/record/record.hpp>
#include <rewound/verdict/policy.hpp>

namespace rewound::verdict::rules {

/// What the readings of one circuit come to.
struct circuit_insulation {
  checks::insulation_result result;
  double longest_time_s = 0.0;  ///< of the readings that can be worked with
  double winding_standard_uncertainty_K = 0.0;
  checks::insulation_curve_result curve;
  std::optional<checks::absorption_result> split;  ///< where there were three readings
  std::optional<checks::predicted<double>> index;  ///< polarization index, where it was not read
  std::optional<checks::predicted<units::resistance>> ten_minutes;
  std::optional<checks::predicted<double>> ratio;  ///< R(60 s) / R(30 s), where it was not read
  std::optional<double>
      late_ratio;  ///< R(600 s) over the last reading within three minutes, the second minute or later
  std::optional<checks::dew_point_result> dew_point;
  bool to_frame = true;  ///< the frame is one end of the circuit
  /// Where the winding is stated warmer than the air by more than it usually is: what the reading would be at 40 degC
  /// had the winding the air's temperature.
  std::optional<measurement::uncertain<units::resistance>> if_at_air = {};
  /// The same circuit's one-minute value at the earlier visit, corrected alike, where the winding is still the same.
  std::optional<measurement::uncertain<units::resistance>> earlier_at_40 = {};
};

/// One circuit of a visit, with what its readings come to.
struct tested_circuit {
  const record::visit_record& in;
  const record::insulation_section& entry;
  const circuit_insulation& found;
};

/// The system whose correction decides: the stated one, or that of the lower value where it is not known. Needs a
/// value at one minute.
record::insulation_system deciding_system(const std::optional<record::insulation_system>& stated,
                                          const checks::insulation_result& result);

/// The winding's temperature; the air's stands in where it was not measured.
double winding_C(const record::visit_record& in, const record::insulation_section& entry);

/// Year of the winding: this visit's where it is of its work, whatever year is stated.
std::optional<int> wound_year(const record::visit_record& in);

/// What a reading of such a part of the winding is divided by.
double connection_divisor(record::winding_connection connection);

/// Minimum of the one-minute resistance at 40 degC, by the winding's year and kind and its rated voltage. Where the
/// year or the kind is not stated, the strictest row that may apply is taken.
limit insulation_minimum(const record::machine_section& of, const std::optional<int>& wound_year, const policy& rules);

}  // namespace rewound::verdict::rules

#ifndef REWOUND_COMPILED
#include <rewound/verdict/impl/rules/tested_circuit.hpp>
#endif
