// SPDX-License-Identifier: MIT
#pragma once

namespace rewound::measurement {

/// A value with its standard uncertainty (GUM 2.3.1), in the same unit.
///
/// It carries no correlation: use it for single results, never to subtract two readings of one meter.
/// Shared meter errors are handled where they arise (see instrument.hpp and the checks).
template <class Quantity>
struct uncertain {
  Quantity value;
  Quantity standard_uncertainty;
};

/// An interval of coverage, low <= high.
template <class Quantity>
struct interval {
  Quantity low;
  Quantity high;
};

}  // namespace rewound::measurement
