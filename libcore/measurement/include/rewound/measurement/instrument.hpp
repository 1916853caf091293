// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cmath>
#include <numbers>
#include <string>

namespace rewound::measurement {

/// A meter and its accuracy statement: limit = gain_limit * |reading| + digit_limit.
///
/// The part that grows with the reading is one unknown gain error common to all readings of this meter,
/// also across two records that name the same meter. The digit part is independent from reading to reading.
/// Both limits bound a rectangular distribution, so u = limit / sqrt(3)
/// (JCGM 100:2008 (GUM) 4.3.7; the split into a common and an independent part is our modelling choice).
template <class Quantity>
struct instrument {
  std::string name;         ///< empty when the record does not name it; then it is shared with no other record
  double gain_limit = 0.0;  ///< relative, such as 0.008 for 0.8 % of reading
  Quantity resolution;      ///< one digit of the display
  double digits = 0.0;      ///< number of digits added to the limit
  bool assumed = false;     ///< true when the record states no accuracy and a default stands in

  /// Limit of error of one reading.
  Quantity limit(Quantity reading) const {
    return Quantity::from_value(gain_limit * std::abs(reading.value()) + digits * resolution.value());
  }

  /// Relative standard uncertainty of the gain, common to all readings.
  double gain_uncertainty() const { return gain_limit / std::numbers::sqrt3; }

  /// Standard uncertainty of the digit part of one reading. Never below that of the rounding to the display's
  /// resolution, resolution / sqrt(12) (GUM F.2.2.1): a reading is never exact.
  Quantity digit_uncertainty() const {
    const double in_digits = std::max(digits / std::numbers::sqrt3, 0.5 / std::numbers::sqrt3);
    return in_digits * resolution;
  }

  /// Standard uncertainty of one reading taken alone: both parts combined.
  Quantity standard_uncertainty(Quantity reading) const {
    const double gain = gain_uncertainty() * reading.value();
    const double digit = digit_uncertainty().value();
    return Quantity::from_value(std::hypot(gain, digit));
  }

  /// True when two records used the very same meter, so that its gain error cancels between them.
  bool same_meter(const instrument& other) const { return !name.empty() && name == other.name; }
};

}  // namespace rewound::measurement
