// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <optional>
#include <string>
#include <vector>

namespace rewound::checks {

/// Why a reading is suspect.
enum class suspicion {
  digits_transposed,    ///< the digits exchanged give a value that fits
  decimal_slipped,      ///< the decimal point one place off gives a value that fits
  wrong_range,          ///< the value times or divided by a thousand fits
  off_curve,            ///< away from the curve of the other readings; no slip explains it
  readings_disagree,    ///< at one voltage, or between neighbours: which one is wrong cannot be told
  falls_with_voltage,   ///< the current falls while the voltage rises
  reads_zero            ///< no current at a voltage where the other readings show some
};

/// One suspect reading of one run-up.
struct suspect_reading {
  std::size_t run = 0;     ///< place of the run-up
  int index = 0;           ///< the reading's place in the record's lists
  bool voltage = false;    ///< the voltage rather than the current is suspect
  suspicion why = suspicion::off_curve;
  double read = 0.0;       ///< what was read, in SI units
  std::optional<double> would_fit;  ///< what the slip would make of it
  bool set_aside = false;  ///< kept out of the curve; a reading that is only one of two that disagree is not
};

namespace detail {

/// A value that a slip of reading could have turned into the one read.
struct slip {
  suspicion why;
  double value;
};

/// Values that a slip could have hidden: neighbouring digits exchanged, the decimal point one place off, and a
/// range of a thousand (common practice, no source). `resolution` is one digit of the display.
inline std::vector<slip> possible_slips(double read, double resolution) {
  std::vector<slip> out;
  const double in_digits = std::round(read / resolution);
  if (in_digits >= 10.0 && in_digits < 1e9) {
    const std::string digits = std::to_string(static_cast<long long>(in_digits));
    for (std::size_t i = 0; i + 1 < digits.size(); ++i) {
      if (digits[i] == digits[i + 1]) continue;
      std::string exchanged = digits;
      std::swap(exchanged[i], exchanged[i + 1]);
      out.push_back({suspicion::digits_transposed, static_cast<double>(std::stoll(exchanged)) * resolution});
    }
  }
  for (const double factor : {10.0, 0.1}) out.push_back({suspicion::decimal_slipped, read * factor});
  for (const double factor : {1000.0, 0.001}) out.push_back({suspicion::wrong_range, read * factor});
  return out;
}

}  // namespace detail

}  // namespace rewound::checks
