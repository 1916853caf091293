// SPDX-License-Identifier: MIT
#pragma once

#include <optional>

#include "draw_arrays.hpp"
#include "fitted_curves.hpp"

namespace rewound::python {

/// Fits every curve of the arrays: by the solver of many curves at once where it knows the family, the curves that it
/// does not certify and all others one by one. The interpreter lock is released while it works.
///
/// @param family   none: the one that choose_family names for each curve
/// @param threads  the answers do not depend on it
/// @param set      what the solver of many curves runs on; none: the widest of the machine
/// @throws base::error (precondition) naming the reading that cannot be
fitted_curves fit_draw(const draw_arrays& in, std::optional<fit::curve_family> family, bool robust, int threads,
                       std::optional<fit::instruction_set> set);

}  // namespace rewound::python
