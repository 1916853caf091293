// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>
#include <cstddef>
#include <cstdio>
#include <string>
#include <vector>

#include <rewound/base/number_text.hpp>
#include <rewound/base/expect.hpp>

#include "pybind.hpp"

// What the functions on single curves share: checks of their arguments, and lists into typed readings.
namespace rewound::python {

inline std::string shown_digits(double value) { return base::general_digits(value, 6); }

inline void expect_above_zero(double value, const std::string& name) {
  base::expect(std::isfinite(value) && value > 0.0, name.c_str(), shown_digits(value), "a finite number above 0");
}

inline void expect_from_zero(double value, const std::string& name) {
  base::expect(std::isfinite(value) && value >= 0.0, name.c_str(), shown_digits(value), "a finite number, 0 or above");
}

inline void expect_finite(const std::vector<double>& values, const char* name) {
  for (std::size_t i = 0; i < values.size(); ++i)
    base::expect(std::isfinite(values[i]), (std::string(name) + "[" + std::to_string(i) + "]").c_str(),
                 shown_digits(values[i]), "a finite number");
}

/// Times of a curve: finite, from 0, rising.
inline void expect_rising(const std::vector<double>& times, const char* name) {
  expect_finite(times, name);
  for (std::size_t i = 0; i < times.size(); ++i) {
    const std::string place = std::string(name) + "[" + std::to_string(i) + "]";
    base::expect(times[i] >= 0.0, place.c_str(), shown_digits(times[i]), "a time of 0 or above");
    base::expect(i == 0 || times[i] > times[i - 1], place.c_str(), shown_digits(times[i]), "times that rise");
  }
}

inline double level_of(double level) {
  base::expect(level > 0.0 && level < 1.0, "level", shown_digits(level), "a number between 0 and 1");
  return level;
}

}  // namespace rewound::python
