// SPDX-License-Identifier: MIT
#pragma once

#include "bounded_search.hpp"

namespace rewound::python {

/// The parameters with the lowest sum of squares.
///
/// Proportional, power and log-quadratic from lines and parabolas in logarithms. Magnetising with weights by
/// scan_magnetising. Magnetising without weights, and magnetising with load, from many starts within a, b, p, g >= 0
/// and 2 <= m <= 12, with weights 1.2 <= m <= 12: a search and no proof that nothing lies lower.
search_result search_curve(const curve_problem& problem);

/// The minimum next to where a problem of other shares has its own; of a magnetising curve with weights the lowest.
search_result search_curve_from(const curve_problem& problem, const Eigen::VectorXd& parameters);

}  // namespace rewound::python
