// SPDX-License-Identifier: MIT
#pragma once

#include <cstddef>
#include <vector>

// Numbers laid out for registers.
namespace rewound::checks::detail {

/// Numbers of many alternatives: as many alternatives as a register has lanes lie side by side, coordinate by
/// coordinate.
struct laned_numbers {
  int width = 2;          ///< lanes
  std::size_t count = 0;  ///< alternatives; the last group is filled up with zeros
  std::size_t coordinates = 0;
  std::vector<double> values;

  laned_numbers() = default;
  laned_numbers(int lanes, std::size_t alternatives, std::size_t dimensions)
      : width(lanes),
        count(alternatives),
        coordinates(dimensions),
        values(groups() * dimensions * static_cast<std::size_t>(lanes)) {}

  std::size_t groups() const { return (count + static_cast<std::size_t>(width) - 1) / static_cast<std::size_t>(width); }
  double& at(std::size_t alternative, std::size_t coordinate) { return values[place(alternative, coordinate)]; }
  double at(std::size_t alternative, std::size_t coordinate) const { return values[place(alternative, coordinate)]; }

 private:
  std::size_t place(std::size_t alternative, std::size_t coordinate) const {
    const auto lanes = static_cast<std::size_t>(width);
    return (alternative / lanes * coordinates + coordinate) * lanes + alternative % lanes;
  }
};

/// A narrow and a wide normal density about each alternative: weight (e^(-square / 2) + wide e^(-wide_rate square)).
struct mixture_shape {
  double wide = 0.0;  ///< height of the wide peak over the narrow one; 0: there is none
  double wide_rate = 0.5;
};

/// Points looked at together, so that a mean is loaded once for all of them.
inline constexpr std::size_t points_at_once = 4;

}  // namespace rewound::checks::detail
