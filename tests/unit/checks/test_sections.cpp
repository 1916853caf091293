// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <cmath>
#include <vector>

#include <near.hpp>
#include <rewound/base/error.hpp>
#include <rewound/checks/resistance.hpp>
#include <rewound/checks/section_balance.hpp>
#include <rewound/checks/section_order.hpp>

namespace checks = rewound::checks;
namespace units = rewound::units;
using rewound::testing::near_absolute;
using rewound::testing::near_relative;

namespace {

std::vector<rewound::measurement::uncertain<units::resistance>> sections(const std::vector<double>& ohms,
                                                                         double u = 0.01) {
  std::vector<rewound::measurement::uncertain<units::resistance>> out;
  for (const double ohm : ohms) out.push_back({units::ohms(ohm), units::ohms(u)});
  return out;
}

checks::resistance_reading two_ohm(const std::string& meter, double lead_ohm, double lead_u) {
  return {units::ohms(2.0),
          units::celsius(20.0),
          units::kelvins(0.0),
          {meter, 0.0, units::ohms(1e-9), 0.0},
          {units::ohms(lead_ohm), units::ohms(lead_u)}};
}

}  // namespace

TEST_CASE("the section farthest from the mean speaks for all: NEMA's worked unbalance, 203, 210, 212") {
  // NEMA MG 1's measure of unbalance, which is AR100's too: 100 (203 - 208.333) / 208.333 = -2.5600 %.
  const auto result = checks::section_balance({sections({203.0, 210.0, 212.0})});
  CHECK(result.farthest == 0);
  CHECK(near_absolute(result.deviation_percent.value, -2.56, 1e-9));
  // Order and scale of the readings do not matter.
  CHECK(near_absolute(checks::section_balance({sections({21.2, 20.3, 21.0})}).deviation_percent.value, -2.56, 1e-9));
}

TEST_CASE("of equal sections nothing lies off, and each further one steadies the mean") {
  const auto two = checks::section_balance({sections({10.0, 10.0})});
  CHECK(near_absolute(two.deviation_percent.value, 0.0, 1e-12));
  // R1 / mean - 1 = (R1 - R2) / (R1 + R2): u sqrt 2 / 20.
  CHECK(near_relative(two.deviation_percent.standard_uncertainty, 100.0 * 0.01 * std::sqrt(2.0) / 20.0, 1e-9));
  CHECK_THROWS_AS(checks::section_balance({sections({10.0})}), rewound::base::error);
}

TEST_CASE("each step of resistance from speed to speed comes with its sign and uncertainty") {
  const auto result = checks::section_order({sections({20.0, 25.0, 24.0}, 0.02)});
  REQUIRE(result.rise_percent.size() == 2);
  CHECK(near_absolute(result.rise_percent[0].value, 25.0, 1e-9));
  CHECK(near_absolute(result.rise_percent[1].value, -4.0, 1e-9));
  CHECK(near_relative(result.rise_percent[0].standard_uncertainty, 125.0 * std::hypot(0.02 / 20.0, 0.02 / 25.0), 1e-9));
  CHECK(checks::section_order({sections({20.0})}).rise_percent.empty());
}

TEST_CASE("leads are taken off and their doubt is carried along") {
  const auto result =
      checks::resistance({.measured = two_ohm("", 0.05, 0.02), .earlier = {}, .expected = units::ohms(1.95)});
  CHECK(near_absolute(units::in_ohms(result.at_20_C.value), 1.95, 1e-12));
  CHECK(near_absolute(result.deviation_percent->value, 0.0, 1e-9));
  CHECK(near_relative(units::in_ohms(result.at_20_C.standard_uncertainty), 0.02, 1e-6));
}

TEST_CASE("the same leads on the same meter cancel between two visits, other leads do not") {
  checks::resistance_input in{
      .measured = two_ohm("ohmmeter 1", 0.05, 0.02), .earlier = two_ohm("ohmmeter 1", 0.05, 0.02), .expected = {}};
  CHECK(checks::resistance(in).deviation_percent->standard_uncertainty < 1e-4);
  in.earlier->ohmmeter.name = "ohmmeter 2";
  CHECK(near_relative(checks::resistance(in).deviation_percent->standard_uncertainty,
                      100.0 * std::sqrt(2.0) * 0.02 / 1.95, 1e-6));
}

TEST_CASE("design, earlier visit and wire are all compared with, and the first that is there decides") {
  checks::resistance_input in{
      .measured = two_ohm("", 0.0, 0.0), .earlier = two_ohm("", 0.0, 0.0), .expected = units::ohms(1.9)};
  in.from_wire = {units::ohms(2.5), units::ohms(0.05)};
  auto result = checks::resistance(in);
  CHECK(result.basis == checks::resistance_basis::design);
  CHECK(near_absolute(result.against_earlier->deviation_percent.value, 0.0, 1e-9));
  CHECK(near_absolute(result.against_wire->deviation_percent.value, -20.0, 1e-9));
  // 0.8 of the wire's 2 percent.
  CHECK(near_relative(result.against_wire->deviation_percent.standard_uncertainty, 1.6, 1e-6));
  in.expected.reset();
  CHECK(checks::resistance(in).basis == checks::resistance_basis::earlier);
  in.earlier.reset();
  result = checks::resistance(in);
  CHECK(result.basis == checks::resistance_basis::wire);
  CHECK(near_absolute(result.deviation_percent->value, -20.0, 1e-9));
}

TEST_CASE("copper by 235 instead of 234.5 moves ten ohms at 31 degC by half a milliohm") {
  checks::resistance_input in{.measured = two_ohm("", 0.0, 0.0), .earlier = {}, .expected = {}};
  in.measured.resistance = units::ohms(10.0);
  in.measured.winding = units::celsius(31.0);
  in.copper_K = 235.0;
  // IEC 60034-1: 10 (235 + 25) / (235 + 31).
  CHECK(near_absolute(units::in_ohms(checks::resistance(in).at_25_C.value), 9.77444, 1e-5));
}
