// SPDX-License-Identifier: MIT
#pragma once

#include <boost/units/absolute.hpp>
#include <boost/units/quantity.hpp>
#include <boost/units/systems/si/temperature.hpp>

// A temperature and a temperature difference are different things: two temperatures can be subtracted but
// not added, and 20 degC is 293.15 K while a rise of 20 degC is 20 K. The types keep them apart.
namespace rewound::units {

using temperature = boost::units::quantity<boost::units::absolute<boost::units::si::temperature>, double>;
using temperature_difference = boost::units::quantity<boost::units::si::temperature, double>;

inline constexpr double zero_celsius_K = 273.15;  ///< exact by definition (SI brochure, 9th edition, 2.3.1)

inline temperature celsius(double degrees) { return temperature::from_value(degrees + zero_celsius_K); }
inline double in_celsius(temperature t) { return t.value() - zero_celsius_K; }
inline temperature_difference kelvins(double k) { return temperature_difference::from_value(k); }
inline double in_kelvins(temperature_difference d) { return d.value(); }

}  // namespace rewound::units
