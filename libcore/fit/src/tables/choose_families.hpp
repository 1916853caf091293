// SPDX-License-Identifier: MIT
#pragma once

#include <vector>

#include <rewound/fit/curve_family.hpp>
#include <rewound/fit/curve_readings.hpp>
#include <rewound/fit/curve_table.hpp>
#include <rewound/fit/fit_curves.hpp>

namespace rewound::fit {

/// What choose_family names for each curve of a table, from sums of squares that lanes of registers find where they are
/// certain.
///
/// @param readings  the rows of the table
std::vector<curve_family> choose_families(const curve_table& table, const std::vector<curve_readings>& readings,
                                          const table_options& options);

}  // namespace rewound::fit
