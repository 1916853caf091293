// SPDX-License-Identifier: MIT
#pragma once

#include <optional>
#include <vector>

#include <rewound/fit/current_curve.hpp>
#include <rewound/fit/curve_family.hpp>
#include <rewound/fit/curve_reading.hpp>

namespace rewound::fit::detail {

/// fit_current_curve of one family.
///
/// @param chi2_of_use  a quick search that has not settled and stands far above it is not carried on
std::optional<current_curve> fit_family(curve_family family, const std::vector<curve_reading>& readings,
                                        double chi2_of_use);

}  // namespace rewound::fit::detail
