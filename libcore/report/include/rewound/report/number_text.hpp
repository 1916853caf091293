// SPDX-License-Identifier: MIT
#pragma once

#include <string>

namespace rewound::report {

/// A number with as many decimals as the half-width of its 95 % interval supports (measurement/rounding.hpp);
/// without one, four significant digits with trailing zeros dropped.
std::string number_text(double value, double half_width = 0.0);

/// A value with the half-width of its 95 % interval: "0.61 +- 0.01".
std::string with_uncertainty(double value, double half_width);

/// A probability, without pretending to more than three decimals: "over 0.999".
std::string probability_text(double probability);

}  // namespace rewound::report
