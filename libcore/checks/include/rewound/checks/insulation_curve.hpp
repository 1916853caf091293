// SPDX-License-Identifier: MIT
#pragma once

#include <cstddef>
#include <optional>
#include <vector>

#include <rewound/units/quantity.hpp>

namespace rewound::checks {

struct curve_of_time_reading {
  units::duration time;  ///< rising from reading to reading
  units::resistance resistance;
  double relative_uncertainty;  ///< standard, independent from reading to reading
};

struct insulation_curve_input {
  std::vector<curve_of_time_reading> readings;
  double certainty = 3.0;  ///< combined standard uncertainties from which a change counts
};

/// What the resistance does while the test voltage stands.
enum class insulation_curve_shape {
  too_few,   ///< one reading
  as_usual,  ///< rises, or stays as it is
  falling,   ///< falls, and does not rise again
  dipping,   ///< falls first and rises then
  erratic,   ///< rises, falls and rises again, or more
  steep      ///< rises faster than time itself
};

struct insulation_curve_result {
  insulation_curve_shape shape = insulation_curve_shape::too_few;
  std::optional<std::size_t> index;  ///< the reading where it shows most
  double change = 1.0;               ///< of the resistance there, as a factor on what it was compared with
};

/// Names the shape of one insulation test's time curve. A sound one rises and levels off, never faster than time
/// itself: an absorption current falls as t^-n with n at most about 1.
insulation_curve_result insulation_curve(const insulation_curve_input& in);

}  // namespace rewound::checks

#ifndef REWOUND_COMPILED
#include <rewound/checks/impl/insulation_curve.hpp>
#endif
