// SPDX-License-Identifier: MIT
#pragma once

#include "bounded_search.hpp"

namespace rewound::python {

/// Powers m that a weighted fit of a magnetising curve may take.
inline constexpr double lowest_scanned_power = 1.2;
inline constexpr double highest_scanned_power = 12.0;

/// The lowest of all minima of sum share w (I - a x - b x^m)^2 over a, b of any sign and 1.2 <= m <= 12.
///
/// For a given m the best a and b are linear, which leaves a function of m alone: it is scanned in steps too small to
/// hide a minimum, and each minimum is refined. Singular where the readings do not tell m: fewer than three voltages,
/// or currents on a straight line through 0.
/// Source: variable projection, G. H. Golub, V. Pereyra, SIAM J. Numer. Anal. 10 (1973) 413-432.
search_result scan_magnetising(const curve_problem& problem);

}  // namespace rewound::python
