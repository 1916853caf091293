// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <near.hpp>
#include <rewound/checks/supply.hpp>

namespace units = rewound::units;
using rewound::testing::near_absolute;
using rewound::testing::near_relative;

namespace {

rewound::checks::supply_result on(double volts, double hertz) {
  return rewound::checks::supply({units::volts(110.0), units::hertz(60.0), units::volts(volts), units::hertz(hertz)});
}

}  // namespace

TEST_CASE("a mains of ten percent more is ten percent and not a hair above") {
  CHECK(on(121.0, 60.0).voltage_percent == 10.0);
  CHECK(on(99.0, 60.0).voltage_percent == -10.0);
}

TEST_CASE("120 V lies within ten percent of 110 V and 125 V does not") {
  CHECK(near_relative(on(120.0, 60.0).voltage_percent, 100.0 * 10.0 / 110.0, 1e-12));
  CHECK(on(125.0, 60.0).voltage_percent > 10.0);
}

TEST_CASE("the combined deviation adds both without their signs") {
  const auto result = on(104.5, 61.8);
  CHECK(near_absolute(result.voltage_percent, -5.0, 1e-12));
  CHECK(near_absolute(result.frequency_percent, 3.0, 1e-12));
  CHECK(near_absolute(result.combined_percent, 8.0, 1e-12));
}

TEST_CASE("flux follows volts over hertz") {
  CHECK(near_relative(on(110.0, 60.0).flux_ratio, 1.0, 1e-15));
  CHECK(near_relative(on(110.0, 50.0).flux_ratio, 1.2, 1e-15));
  CHECK(near_relative(on(220.0, 120.0).flux_ratio, 1.0, 1e-15));
}
