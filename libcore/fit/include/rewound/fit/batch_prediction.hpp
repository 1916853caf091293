// SPDX-License-Identifier: MIT
#pragma once

#include <cstddef>

#include <rewound/fit/curve_table.hpp>
#include <rewound/fit/instruction_set.hpp>
#include <rewound/fit/prediction_table.hpp>
#include <rewound/fit/curve_family.hpp>

namespace rewound::fit {

/// Currents of weighted fits with the two-sided interval of Student's t, symmetric in the current.
///
/// The variance is g' C g, with g the gradient of the current and C the covariance, and chi2 / (n - p) more for a new
/// reading of weight 1, or of fits.mean_weight. Without degrees of freedom low and high are NaN; NaN parameters give
/// NaN.
///
/// @param fits   as fit_batch leaves them
/// @param first  the first curve, and `last` the one after the last
/// @throws base::error (precondition) on a level outside (0, 1) or a family that is not in_batches
void predict_batch(const fitted_rows& fits, curve_family family, const prediction_points& at, double level,
                   bool new_reading, std::size_t first, std::size_t last, const prediction_table& answers,
                   instruction_set set = instruction_sets().back());

}  // namespace rewound::fit
