// SPDX-License-Identifier: MIT
// Must not compile: two temperatures have a difference, but no sum.
#include <rewound/units/temperature.hpp>

auto sum(rewound::units::temperature a, rewound::units::temperature b) { return a + b; }
