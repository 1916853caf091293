// SPDX-License-Identifier: MIT
#pragma once

#include <cstddef>
#include <string>
#include <utility>
#include <vector>

namespace rewound::tool::dialogue {

/// Points of one speed, volts and amperes.
struct drawn_curve {
  std::string name;
  std::vector<std::pair<double, double>> points;
};

struct drawing_size {
  std::size_t columns = 79;
  std::size_t lines = 18;
};

/// Current over voltage in characters: each speed with a digit of its own (1 the first), the expected curve in dots,
/// axes and a line that names the digits. No line is wider than `size.columns`.
///
/// @param expected  points of the expected curve; may be empty
/// @param unicode   box-drawing characters instead of - and |
std::string curve_drawing(const std::vector<drawn_curve>& curves,
                          const std::vector<std::pair<double, double>>& expected, drawing_size size, bool unicode);

}  // namespace rewound::tool::dialogue
