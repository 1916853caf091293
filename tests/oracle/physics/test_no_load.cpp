// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <string>

#include <oracle_table.hpp>
#include <rewound/checks/no_load.hpp>

namespace checks = rewound::checks;
namespace units = rewound::units;
using inputs = rewound::testing::row_inputs;

namespace {

checks::no_load_reading reading(double volts, double amperes, double watts, double u_W) {
  return {units::volts(volts), units::amperes(amperes), units::watts(watts),
          units::volts(0.0),   units::amperes(0.0),     units::watts(u_W)};
}

checks::no_load_result line_of(const inputs& in, double u_W) {
  checks::no_load_input out{
      .readings = {}, .rated_voltage = units::volts(230.0), .loss_resistance = units::ohms(in("R"))};
  for (const char* i : {"1", "2", "3", "4", "5"}) {
    const std::string n(i);
    out.readings.push_back(reading(in("V" + n), in("I" + n), in("P" + n), u_W));
  }
  return checks::no_load(out);
}

/// Friction, windage and core loss together at one reading, here the rated one: what no line can change.
double rotational(const inputs& in) {
  const double volts = in("V");
  checks::no_load_input out{.readings = {reading(volts, in("I"), in("P"), 1e-6)},
                            .rated_voltage = units::volts(volts),
                            .loss_resistance = units::ohms(in("R1") + in("R2") / 4.0)};
  for (const double x : {0.4, 0.5, 0.6})
    out.readings.push_back(reading(x * volts, x, 5.0 + 8.0 * x * x + x * x * out.loss_resistance.value(), 1e-6));
  const auto result = checks::no_load(out);
  REQUIRE(result.core);
  return units::in_watts(result.friction_and_windage.value + result.core->value);
}

}  // namespace

TEST_CASE("no load: every row of the oracle table is met") {
  rewound::testing::check_table(
      "physics/no_load.csv",
      {{"intercept_W", [](const inputs& in) { return line_of(in, 1.0).friction_and_windage.value.value(); }},
       {"intercept_u",
        [](const inputs& in) { return line_of(in, in("u")).friction_and_windage.standard_uncertainty.value(); }},
       {"rotational_W", rotational}});
}
