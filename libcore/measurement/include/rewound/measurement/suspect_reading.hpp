// SPDX-License-Identifier: MIT
#pragma once

#include <cstddef>
#include <optional>

namespace rewound::measurement {

/// Why a reading is suspect.
enum class suspicion {
  digits_transposed,        ///< the digits exchanged give a value that fits
  decimal_slipped,          ///< the decimal point one place off gives a value that fits
  wrong_range,              ///< the value times or divided by a thousand fits
  off_curve,                ///< away from the curve of the other readings; no slip explains it
  readings_disagree,        ///< at one voltage, or between neighbours: which one is wrong cannot be told
  falls_with_voltage,       ///< the current falls while the voltage rises
  rotor_at_rest,            ///< at the lowest voltages, well above the running curve: the rotor hardly turned
  current_without_voltage,  ///< a current, and no voltage that would drive it
  reads_zero                ///< no current at a voltage where the other readings show some
};

/// One suspect reading of one run-up.
struct suspect_reading {
  std::size_t run = 0;   ///< place of the run-up
  int index = 0;         ///< the reading's place in the record's lists
  bool voltage = false;  ///< the voltage rather than the current is suspect
  suspicion why = suspicion::off_curve;
  double read = 0.0;                ///< what was read, in SI units
  std::optional<double> would_fit;  ///< what the slip would make of it
  bool set_aside = false;           ///< kept out of the curve; a reading that is only one of two that disagree is not
};

}  // namespace rewound::measurement
