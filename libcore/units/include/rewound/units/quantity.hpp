// SPDX-License-Identifier: MIT
#pragma once

#include <boost/units/quantity.hpp>
#include <boost/units/systems/si/angular_velocity.hpp>
#include <boost/units/systems/si/area.hpp>
#include <boost/units/systems/si/capacitance.hpp>
#include <boost/units/systems/si/current.hpp>
#include <boost/units/systems/si/electric_potential.hpp>
#include <boost/units/systems/si/frequency.hpp>
#include <boost/units/systems/si/length.hpp>
#include <boost/units/systems/si/power.hpp>
#include <boost/units/systems/si/resistance.hpp>
#include <boost/units/systems/si/time.hpp>
#include <boost/units/systems/si/torque.hpp>

// The only header that brings in Boost.Units. All quantities are held in coherent SI units; a number
// becomes a quantity and leaves it again only through the named functions here, so that the unit is said
// at both borders. A quantity has no "absent" state: where a reading may be missing, use std::optional.
namespace rewound::units {

template <class Unit>
using quantity = boost::units::quantity<Unit, double>;

using voltage = quantity<boost::units::si::electric_potential>;
using current = quantity<boost::units::si::current>;
using resistance = quantity<boost::units::si::resistance>;
using power = quantity<boost::units::si::power>;
using frequency = quantity<boost::units::si::frequency>;
using duration = quantity<boost::units::si::time>;
using length = quantity<boost::units::si::length>;
using area = quantity<boost::units::si::area>;
using angular_velocity = quantity<boost::units::si::angular_velocity>;
using capacitance = quantity<boost::units::si::capacitance>;
using torque = quantity<boost::units::si::torque>;

inline voltage volts(double value) { return voltage::from_value(value); }
inline current amperes(double value) { return current::from_value(value); }
inline current milliamperes(double value) { return current::from_value(value * 1e-3); }
inline resistance ohms(double value) { return resistance::from_value(value); }
inline resistance megohms(double value) { return resistance::from_value(value * 1e6); }
inline power watts(double value) { return power::from_value(value); }
inline frequency hertz(double value) { return frequency::from_value(value); }
inline duration seconds(double value) { return duration::from_value(value); }
inline length metres(double value) { return length::from_value(value); }
inline length millimetres(double value) { return length::from_value(value * 1e-3); }
inline capacitance farads(double value) { return capacitance::from_value(value); }
inline torque newton_metres(double value) { return torque::from_value(value); }

inline double in_volts(voltage q) { return q.value(); }
inline double in_amperes(current q) { return q.value(); }
inline double in_milliamperes(current q) { return q.value() * 1e3; }
inline double in_ohms(resistance q) { return q.value(); }
inline double in_megohms(resistance q) { return q.value() * 1e-6; }
inline double in_watts(power q) { return q.value(); }
inline double in_hertz(frequency q) { return q.value(); }
inline double in_seconds(duration q) { return q.value(); }
inline double in_metres(length q) { return q.value(); }
inline double in_millimetres(length q) { return q.value() * 1e3; }
inline double in_farads(capacitance q) { return q.value(); }
inline double in_newton_metres(torque q) { return q.value(); }

}  // namespace rewound::units
