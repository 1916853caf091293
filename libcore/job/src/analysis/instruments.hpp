// SPDX-License-Identifier: MIT
#pragma once

#include <string>
#include <vector>

#include <rewound/measurement/instrument.hpp>
#include <rewound/record/record.hpp>
#include <rewound/units/quantity.hpp>
#include <rewound/units/temperature.hpp>

namespace rewound::job {

/// The instruments of one visit as the checks take them: stated in the record, or assumed
/// (reference/limits/assumed_accuracy.table) with the resolution that the readings show.
struct bench_instruments {
  measurement::instrument<units::voltage> voltmeter;
  measurement::instrument<units::current> ammeter;
  measurement::instrument<units::power> wattmeter;
  measurement::instrument<units::angular_velocity>
      tachometer;  ///< its numbers are in rpm, not rad/s: only ratios are used
  measurement::instrument<units::resistance> ohmmeter;
  measurement::instrument<units::resistance> insulation_tester;
  measurement::instrument<units::temperature_difference> thermometer;
  measurement::instrument<units::current> leakage_meter;
  measurement::instrument<units::capacitance> capacitance_meter;
  std::vector<std::string> assumed;  ///< those used by this record for which it states no accuracy
};

bench_instruments instruments_of(const record::visit_record& in);

/// The ohmmeter as it shows the bars of a commutator, which it reads on a lower range than a winding.
measurement::instrument<units::resistance> ohmmeter_on_bars(const record::visit_record& in);

}  // namespace rewound::job
