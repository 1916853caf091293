// SPDX-License-Identifier: MIT
#pragma once

#include <optional>
#include <vector>

#include <rewound/fit/current_curve.hpp>
#include <rewound/fit/curve_family.hpp>
#include <rewound/fit/curve_readings.hpp>

namespace rewound::fit {

/// The curve of a speed: the family with the lowest corrected Akaike criterion among those that the readings can
/// carry, the simplest of near-ties. Two voltages carry a power law, one a proportional curve.
///
/// @return nothing without readings
std::optional<current_curve> fit_current_curve(const std::vector<curve_reading>& readings);

/// The family that fits these readings best: that of fit_current_curve without weights. With weights the size of the
/// errors is not known, and the criterion is n ln(chi2 / n) + 2 k + 2 k (k + 1) / (n - k - 1), where k counts that size
/// too. Proportional without readings.
curve_family choose_family(const curve_readings& readings);

}  // namespace rewound::fit

#ifndef REWOUND_COMPILED
#include <rewound/fit/impl/curve_choice.hpp>
#endif
