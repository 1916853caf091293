// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <cmath>

#include <near.hpp>
#include <rewound/checks/insulation.hpp>

namespace checks = rewound::checks;
namespace units = rewound::units;
using rewound::record::insulation_system;
using rewound::testing::near_absolute;
using rewound::testing::near_relative;

namespace {

checks::insulation_input at(double winding_C, double one_minute_Mohm) {
  return {{{units::seconds(60.0), units::megohms(one_minute_Mohm)}},
          units::celsius(winding_C),
          units::kelvins(0.0),
          {"", 0.05, units::megohms(1e-9), 0.0}};
}

}  // namespace

// Values of the correction factor stand in reference/oracles/standards/insulation.csv.
TEST_CASE("both corrections are one at 40 degC and continuous there") {
  for (const auto system : {insulation_system::thermosetting, insulation_system::thermoplastic}) {
    CHECK(near_absolute(checks::factor_to_40_C(units::celsius(40.0), system), 1.0, 1e-12));
    const double below = checks::factor_to_40_C(units::celsius(40.0 - 1e-9), system);
    const double above = checks::factor_to_40_C(units::celsius(40.0 + 1e-9), system);
    CHECK(near_absolute(above, below, 1e-9));
  }
}

TEST_CASE("a warmer winding had the higher resistance at 40 degC, for either system") {
  for (const auto system : {insulation_system::thermosetting, insulation_system::thermoplastic})
    for (double t = 10.0; t < 85.0; t += 5.0) {
      CAPTURE(t);
      CHECK(checks::factor_to_40_C(units::celsius(t + 5.0), system) >
            checks::factor_to_40_C(units::celsius(t), system));
    }
}

TEST_CASE("12 Mohm at 20 degC is 3 Mohm or 9.1 Mohm at 40 degC, on either side of the 5 Mohm minimum") {
  const auto result = checks::insulation(at(20.0, 12.0));
  CHECK(near_absolute(units::in_megohms(result.thermoplastic_at_40->value), 3.0, 1e-4));
  CHECK(near_absolute(units::in_megohms(result.thermosetting_at_40->value), 9.1467, 1e-3));
}

TEST_CASE("the tester's error and the temperature's go into the corrected value") {
  auto in = at(30.0, 100.0);
  CHECK(near_relative(units::in_megohms(checks::insulation(in).thermoplastic_at_40->standard_uncertainty),
                      50.0 * 0.05 / std::sqrt(3.0), 1e-6));
  in.tester.gain_limit = 0.0;
  in.winding_uncertainty = units::kelvins(1.0);
  // Halving in 10 K is ln 2 / 10 a kelvin.
  CHECK(near_relative(units::in_megohms(checks::insulation(in).thermoplastic_at_40->standard_uncertainty),
                      50.0 * std::log(2.0) / 10.0, 1e-4));
}

TEST_CASE("ratios need both of their readings, and one tester's gain error cancels from them") {
  auto in = at(21.0, 310.0);
  CHECK_FALSE(checks::insulation(in).polarization.has_value());
  CHECK_FALSE(checks::insulation(in).absorption.has_value());
  in.readings = {{units::seconds(30.0), units::megohms(240.0)},
                 {units::seconds(60.0), units::megohms(310.0)},
                 {units::seconds(600.0), units::megohms(720.0)}};
  const auto result = checks::insulation(in);
  CHECK(near_relative(result.polarization->value, 720.0 / 310.0, 1e-12));
  CHECK(near_relative(result.absorption->value, 310.0 / 240.0, 1e-12));
  CHECK(result.polarization->standard_uncertainty < 1e-6);
}

TEST_CASE("without a reading at one minute nothing is corrected") {
  auto in = at(21.0, 310.0);
  in.readings.front().time = units::seconds(45.0);
  const auto result = checks::insulation(in);
  CHECK_FALSE(result.at_one_minute.has_value());
  CHECK_FALSE(result.thermosetting_at_40.has_value());
}

TEST_CASE("outside 10 to 85 degC the correction is said to be out of its range") {
  CHECK(checks::insulation(at(10.0, 100.0)).correction_valid);
  CHECK(checks::insulation(at(85.0, 100.0)).correction_valid);
  CHECK_FALSE(checks::insulation(at(9.0, 100.0)).correction_valid);
  CHECK_FALSE(checks::insulation(at(86.0, 100.0)).correction_valid);
}
