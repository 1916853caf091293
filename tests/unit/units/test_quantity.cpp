// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <near.hpp>
#include <rewound/units/quantity.hpp>
#include <rewound/units/rotation.hpp>
#include <rewound/units/temperature.hpp>

namespace units = rewound::units;
using rewound::testing::near_absolute;
using rewound::testing::near_relative;

// SI prefixes and the degree Celsius: SI brochure, 9th edition, tables 7 and 2.3.1. Rounding of doubles only.
TEST_CASE("prefixes are powers of ten of the coherent unit") {
  CHECK(near_relative(units::in_amperes(units::milliamperes(250.0)), 0.25, 1e-15));
  CHECK(near_relative(units::in_milliamperes(units::amperes(0.25)), 250.0, 1e-15));
  CHECK(near_relative(units::in_ohms(units::megohms(5.0)), 5e6, 1e-15));
  CHECK(near_relative(units::in_megohms(units::ohms(5e6)), 5.0, 1e-15));
  CHECK(near_relative(units::in_metres(units::millimetres(0.315)), 0.315e-3, 1e-15));
}

TEST_CASE("a number that goes in as a unit comes out as the same number") {
  CHECK(units::in_volts(units::volts(230.1)) == 230.1);
  CHECK(units::in_hertz(units::hertz(50.0)) == 50.0);
  CHECK(units::in_seconds(units::seconds(60.0)) == 60.0);
  CHECK(units::in_watts(units::watts(75.0)) == 75.0);
}

TEST_CASE("20 degrees Celsius is 293.15 K, and a rise of 20 K is not") {
  CHECK(near_absolute(units::celsius(20.0).value(), 293.15, 1e-12));
  CHECK(units::kelvins(20.0).value() == 20.0);
  CHECK(near_absolute(units::in_celsius(units::celsius(-40.0)), -40.0, 1e-12));
}

TEST_CASE("the difference of two temperatures is a rise in kelvins") {
  CHECK(near_absolute(units::in_kelvins(units::celsius(95.0) - units::celsius(25.0)), 70.0, 1e-12));
  CHECK(near_absolute(units::in_celsius(units::celsius(25.0) + units::kelvins(70.0)), 95.0, 1e-12));
}

TEST_CASE("1500 revolutions per minute are 157.08 rad/s") {
  // 1500 / 60 turns a second times 2 pi = 50 pi.
  CHECK(near_relative(units::rpm(1500.0).value(), 157.07963267948966, 1e-14));
  CHECK(near_relative(units::in_rpm(units::rpm(1365.0)), 1365.0, 1e-14));
}
