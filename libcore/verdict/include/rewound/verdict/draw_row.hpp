// SPDX-License-Identifier: MIT
#pragma once

#include <optional>
#include <string>

#include <rewound/measurement/uncertain.hpp>
#include <rewound/units/quantity.hpp>
#include <rewound/verdict/outcome.hpp>

namespace rewound::verdict {

/// What the draw of one speed was judged by.
enum class expectation { none, nameplate, nameplate_ceiling, earlier, reference };

enum class draw_flag { none, high, low };

/// One speed's draw beside what was expected of it. Absent where nothing was read or nothing was expected.
struct draw_row {
  std::string speed;
  expectation judged_by = expectation::none;
  std::optional<measurement::uncertain<units::current>> at_rated;   ///< from this visit's curve, at the rated voltage
  std::optional<measurement::uncertain<units::current>> at_supply;  ///< the same at today's mains
  std::optional<units::current> expected_at_rated;
  std::optional<double> expected_spread_percent;                ///< standard deviation of a good machine's level, all included
  std::optional<measurement::uncertain<double>> level_percent;  ///< this visit over the expectation, less one
  std::optional<measurement::uncertain<double>> exponent;       ///< d ln I / d ln V at the rated voltage
  bool extrapolated = false;                                    ///< the rated voltage lies outside the readings
  verdict::outcome outcome = outcome::not_tested;
  draw_flag flag = draw_flag::none;
};

}  // namespace rewound::verdict
