// SPDX-License-Identifier: MIT
#pragma once

namespace rewound::record {

/// What a number may be.
struct range {
  double low;
  double high;
  const char* words;
  bool low_open = false;
  double smallest = 1e-12;  ///< what is not 0 is no smaller than this: no meter of a bench shows it
};

inline constexpr range above_zero{0.0, 1e12, "a finite number above 0", true};
inline constexpr range not_negative{0.0, 1e12, "a finite number not below 0"};
inline constexpr range temperature_range{-60.0, 400.0, "a temperature from -60 to 400 degC"};
inline constexpr range length_range{0.0, 1000.0, "a length above 0 and up to 1000 m", true, 1e-6};
inline constexpr range percent_range{0.0, 100.0, "a number from 0 to 100", false, 1e-9};
inline constexpr range hertz_range{0.1, 1000.0, "a frequency from 0.1 to 1000 Hz"};

// What a small machine's bench can read, with room on both sides: the borders are there so that what lies beyond them
// is told as impossible, and nothing that is worked out can overflow. Common practice, no source.
inline constexpr range volts_range{0.001, 100000.0, "a voltage from 0.001 to 100000 V"};
inline constexpr range read_volts_range{0.0, 100000.0, "a voltage of 0, or up to 100000 V", false, 1e-6};
inline constexpr range amperes_range{1e-6, 1e5, "a current from 0.000001 to 100000 A"};
inline constexpr range read_amperes_range{0.0, 1e5, "a current of 0, or up to 100000 A", false, 1e-9};
inline constexpr range milliamperes_range{0.0, 1e8, "a current of 0, or up to 100000000 mA", false, 1e-9};
inline constexpr range watts_range{0.001, 1e8, "a power from 0.001 to 100000000 W"};
inline constexpr range read_watts_range{0.0, 1e8, "a power of 0, or up to 100000000 W", false, 1e-9};
inline constexpr range rpm_range{0.1, 1e6, "a speed from 0.1 to 1000000 rpm"};
inline constexpr range read_rpm_range{0.0, 1e6, "a speed of 0, or up to 1000000 rpm", false, 1e-6};
inline constexpr range ohms_range{1e-6, 1e9, "a resistance from 0.000001 to 1000000000 ohm"};
inline constexpr range read_ohms_range{0.0, 1e9, "a resistance of 0, or up to 1000000000 ohm", false, 1e-9};
inline constexpr range megohms_range{1e-6, 1e9, "a resistance from 0.000001 to 1000000000 Mohm"};
inline constexpr range seconds_range{0.001, 1e7, "a time from 0.001 to 10000000 s"};
inline constexpr range since_seconds_range{0.0, 1e7, "a time of 0, or up to 10000000 s", false, 0.001};
inline constexpr range millimetres_range{0.001, 1e5, "a length from 0.001 to 100000 mm"};
inline constexpr range microfarads_range{1e-6, 1e7, "a capacitance from 0.000001 to 10000000 uF"};
inline constexpr range read_microfarads_range{0.0, 1e7, "a capacitance of 0, or up to 10000000 uF", false, 1e-9};
inline constexpr range inertia_range{1e-12, 1e6, "an inertia from 1e-12 to 1000000 kgm2"};
inline constexpr range one_digit_range{1e-12, 1e9, "one digit of a display, from 1e-12 to 1e9"};
inline constexpr range full_scale_range{1e-9, 1e16, "the end of a range, from 1e-9 to 1e16"};

}  // namespace rewound::record
