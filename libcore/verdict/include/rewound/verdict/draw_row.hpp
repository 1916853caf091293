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

/// What makes a level uncertain, standard uncertainties in percent.
struct level_uncertainty {
  double readings = 0.0;     ///< this visit's own, meter digits and scatter
  double gain = 0.0;         ///< meter gains that do not cancel
  double expectation = 0.0;  ///< of the mean of good machines, or of the earlier visit
};

/// One speed's draw beside what was expected of it. Absent where nothing was read or nothing was expected.
struct draw_row {
  std::string speed;
  expectation judged_by = expectation::none;
  std::optional<measurement::uncertain<units::current>> at_rated;   ///< from this visit's curve, at the rated voltage
  std::optional<measurement::uncertain<units::current>> at_supply;  ///< the same at today's mains
  std::optional<units::current> expected_at_rated;
  std::optional<double> expected_spread_percent;  ///< standard deviation of a good machine's level, all included
  std::optional<measurement::uncertain<double>> level_percent;  ///< this visit over the expectation, less one
  std::optional<level_uncertainty> uncertainty;                 ///< of level_percent, in its parts
  int readings = 0;                                             ///< that the curve rests on
  std::optional<measurement::uncertain<double>> exponent;       ///< d ln I / d ln V at the rated voltage
  bool extrapolated = false;                                    ///< the rated voltage lies outside the readings
  bool far_from_rated = false;                                  ///< no reading within a tenth of the rated voltage
  verdict::outcome outcome = outcome::not_tested;
  draw_flag flag = draw_flag::none;
};

}  // namespace rewound::verdict
