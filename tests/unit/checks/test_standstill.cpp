// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <vector>

#include <near.hpp>
#include <rewound/checks/standstill.hpp>

namespace standstill_check {

using namespace rewound;

std::vector<units::voltage> volts_of(const std::vector<double>& values) {
  std::vector<units::voltage> out;
  for (const double value : values) out.push_back(units::volts(value));
  return out;
}

TEST_CASE("a rotor's standstill is held against the voltage from which all others turn") {
  const auto found = checks::standstill({volts_of({90.0, 132.0, 110.0}), volts_of({80.0, 120.0, 100.0})});
  REQUIRE(found);
  CHECK(found->stood.value() == 132.0);
  CHECK(found->turned_from.value() == 120.0);
  CHECK(testing::near_relative(found->ratio, 1.1, 1e-12));
}

TEST_CASE("without a standstill, or others to hold it against, nothing is said of it") {
  CHECK(!checks::standstill({{}, volts_of({80.0})}));
  CHECK(!checks::standstill({volts_of({80.0}), {}}));
}

TEST_CASE("one more machine that turned later never makes a standstill worse, one more standstill never better") {
  const auto ratio = [](std::vector<double> stood, std::vector<double> turned) {
    return checks::standstill({volts_of(stood), volts_of(turned)})->ratio;
  };
  for (const double volts : {50.0, 100.0, 119.0, 121.0, 200.0}) {
    CHECK(ratio({130.0}, {120.0, volts}) <= ratio({130.0}, {120.0}));
    CHECK(ratio({130.0, volts}, {120.0}) >= ratio({130.0}, {120.0}));
  }
}

}  // namespace standstill_check
