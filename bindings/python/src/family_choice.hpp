// SPDX-License-Identifier: MIT
#pragma once

#include "curve_fit.hpp"

namespace rewound::python {

/// The family that `auto` fits: the one with the lowest corrected Akaike criterion among those that the readings can
/// carry, the simplest of near-ties. Power where they carry no choice, proportional at one voltage.
///
/// Without weights fit::fit_current_curve chooses, errors being known. With weights their common size is not, and
/// the criterion is n ln(chi2 / n) + 2 k + 2 k (k + 1) / (n - k - 1), where k counts that size too.
fit::curve_family choose_family(const curve_readings& readings);

}  // namespace rewound::python
