// SPDX-License-Identifier: MIT
#pragma once

namespace rewound::record {

/// What a number may be.
struct range {
  double low;
  double high;
  const char* words;
  bool low_open = false;
};

inline constexpr range above_zero{0.0, 1e12, "a finite number above 0", true};
inline constexpr range not_negative{0.0, 1e12, "a finite number not below 0"};
inline constexpr range temperature_range{-60.0, 400.0, "a temperature from -60 to 400 degC"};
inline constexpr range length_range{0.0, 1000.0, "a length above 0 and up to 1000 m", true};
inline constexpr range percent_range{0.0, 100.0, "a number from 0 to 100"};
inline constexpr range volts_range{0.0, 100000.0, "a voltage above 0 and up to 100000 V", true};
inline constexpr range hertz_range{0.0, 1000.0, "a frequency above 0 and up to 1000 Hz", true};

}  // namespace rewound::record
