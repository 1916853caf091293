// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>
#include <string>
#include <utility>
#include <vector>

#include <rewound/measurement/suspect_reading.hpp>

namespace rewound::checks {

using measurement::suspect_reading;
using measurement::suspicion;

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
