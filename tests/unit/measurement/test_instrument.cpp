// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <cmath>

#include <near.hpp>
#include <rewound/measurement/instrument.hpp>
#include <rewound/units/quantity.hpp>

namespace units = rewound::units;
using rewound::testing::near_relative;

namespace {

/// The bench ammeter of the worked examples: 0.8 % of reading and 3 digits of 1 mA.
const rewound::measurement::instrument<units::current> ammeter{"bench ammeter", 0.008, units::amperes(0.001), 3.0};

}  // namespace

TEST_CASE("the limit of error is the share of the reading and the digits") {
  // 0.8 % of 0.5 A is 4 mA, 3 digits are 3 mA.
  CHECK(near_relative(units::in_amperes(ammeter.limit(units::amperes(0.5))), 0.007, 1e-12));
  CHECK(near_relative(units::in_amperes(ammeter.limit(units::amperes(-0.5))), 0.007, 1e-12));
}

TEST_CASE("both parts of the limit bound a rectangle, so each is divided by the root of three") {
  // GUM 4.3.7.
  CHECK(near_relative(ammeter.gain_uncertainty(), 0.008 / std::sqrt(3.0), 1e-12));
  CHECK(near_relative(units::in_amperes(ammeter.digit_uncertainty()), 0.003 / std::sqrt(3.0), 1e-12));
}

TEST_CASE("the gain part is relative and the digit part is the same at every reading") {
  const double u_small = units::in_amperes(ammeter.standard_uncertainty(units::amperes(0.01)));
  const double u_large = units::in_amperes(ammeter.standard_uncertainty(units::amperes(10.0)));
  CHECK(near_relative(u_small, std::hypot(0.00008, 0.003) / std::sqrt(3.0), 1e-12));
  CHECK(near_relative(u_large, std::hypot(0.08, 0.003) / std::sqrt(3.0), 1e-12));
}

TEST_CASE("a meter without digits still rounds to its display") {
  // GUM F.2.2.1: resolution / sqrt(12).
  const rewound::measurement::instrument<units::voltage> exact{"", 0.0, units::volts(0.1), 0.0};
  CHECK(near_relative(units::in_volts(exact.digit_uncertainty()), 0.1 / std::sqrt(12.0), 1e-12));
}

TEST_CASE("two meters are one only when both carry the same name") {
  auto other = ammeter;
  CHECK(ammeter.same_meter(other));
  other.name = "bench ammeter 2";
  CHECK_FALSE(ammeter.same_meter(other));
  rewound::measurement::instrument<units::current> unnamed{"", 0.008, units::amperes(0.001), 3.0};
  CHECK_FALSE(unnamed.same_meter(unnamed));
}
