// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <cmath>
#include <string>

#include <near.hpp>
#include <rewound/checks/resistance.hpp>

namespace checks = rewound::checks;
namespace units = rewound::units;
using rewound::testing::near_absolute;
using rewound::testing::near_relative;

namespace {

/// A reading with a meter of 0.5 % and no digits worth a word, at a temperature known exactly.
checks::resistance_reading reading(double ohm, double winding_C, const std::string& meter = "") {
  return {units::ohms(ohm), units::celsius(winding_C), units::kelvins(0.0), {meter, 0.005, units::ohms(1e-9), 0.0}};
}

checks::resistance_input input(const checks::resistance_reading& measured) {
  return {.measured = measured, .earlier = {}, .expected = {}};
}

}  // namespace

TEST_CASE("a copper winding of 10 ohm at 31 degC has 9.774 ohm at 25 degC") {
  // k = 234.5: 10 (234.5 + 25) / (234.5 + 31) (IEC 60335-1, IEEE 112).
  CHECK(near_absolute(units::in_ohms(checks::resistance(input(reading(10.0, 31.0))).at_25_C.value), 9.77401, 1e-5));
}

TEST_CASE("a design value given at another temperature is compared at 20 degC") {
  auto in = input(reading(18.0, 20.0));
  in.expected = units::ohms(18.0 * (234.5 + 25.0) / (234.5 + 20.0));
  in.expected_at = units::celsius(25.0);
  const auto result = checks::resistance(in);
  CHECK(near_relative(units::in_ohms(*result.expected_at_20_C), 18.0, 1e-12));
  CHECK(near_absolute(result.deviation_percent->value, 0.0, 1e-12));
  // Against an exact design value the meter's whole error counts: 0.5 % / sqrt 3.
  CHECK(near_relative(result.deviation_percent->standard_uncertainty, 0.5 / std::sqrt(3.0), 1e-6));
}

TEST_CASE("the design value outranks the earlier visit") {
  auto in = input(reading(18.0, 20.0));
  in.expected = units::ohms(20.0);
  in.earlier = reading(18.0, 20.0);
  CHECK(near_absolute(checks::resistance(in).deviation_percent->value, -10.0, 1e-9));
}

TEST_CASE("between two visits one meter's gain error cancels and two meters' errors add up") {
  auto in = input(reading(18.9, 20.0, "ohmmeter 1"));
  in.earlier = reading(18.0, 20.0, "ohmmeter 1");
  const auto same = checks::resistance(in);
  CHECK(near_absolute(same.deviation_percent->value, 5.0, 1e-9));
  CHECK(same.deviation_percent->standard_uncertainty < 1e-4);
  in.earlier->ohmmeter.name = "ohmmeter 2";
  CHECK(near_relative(checks::resistance(in).deviation_percent->standard_uncertainty,
                      105.0 * 0.005 * std::sqrt(2.0 / 3.0), 1e-6));
}

TEST_CASE("one kelvin of doubt about the winding is 0.393 percent of copper") {
  auto in = input(reading(10.0, 20.0));
  in.measured.winding_uncertainty = units::kelvins(1.0);
  in.measured.ohmmeter.gain_limit = 0.0;
  // 1 / (234.5 + 20), IEC 60028.
  CHECK(near_relative(units::in_ohms(checks::resistance(in).at_20_C.standard_uncertainty), 10.0 / 254.5, 1e-6));
}

TEST_CASE("without anything to compare with there is a value and no deviation") {
  const auto result = checks::resistance(input(reading(10.0, 20.0)));
  CHECK(near_relative(units::in_ohms(result.at_20_C.value), 10.0, 1e-12));
  CHECK_FALSE(result.deviation_percent.has_value());
  CHECK_FALSE(result.expected_at_20_C.has_value());
}

TEST_CASE("aluminium is corrected with its own constant") {
  auto in = input(reading(10.0, 31.0));
  in.material = rewound::record::conductor_material::aluminium;
  // k = 225 (IEEE 112).
  CHECK(near_absolute(units::in_ohms(checks::resistance(in).at_25_C.value), 9.76562, 1e-5));
}
