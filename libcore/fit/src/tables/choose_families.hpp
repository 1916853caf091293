// SPDX-License-Identifier: MIT
#pragma once

#include <vector>

#include <rewound/fit/curve_family.hpp>
#include <rewound/fit/curve_readings.hpp>
#include <rewound/fit/curve_table.hpp>
#include <rewound/fit/fit_curves.hpp>

namespace rewound::fit {

/// Curves with load that a choice needed, as fit_curves fits them without robust.
struct curves_with_load {
  std::vector<std::size_t> rows;
  fitted_table fits;

  bool usable(std::size_t i) const { return has_converged(fits.status[i]); }
};

struct chosen_families {
  std::vector<curve_family> family;  ///< of each curve
  curves_with_load loaded;
};

/// What choose_family names for each curve of a table, from sums of squares that lanes of registers find where they are
/// certain.
///
/// @param readings  the rows of the table
chosen_families choose_families(const curve_table& table, const std::vector<curve_readings>& readings,
                                const table_options& options);

}  // namespace rewound::fit
