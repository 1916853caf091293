// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <near.hpp>
#include <rewound/checks/capacitor.hpp>

using namespace rewound;

namespace {

checks::capacitor_input in_circuit(double across_V, double through_A, double supply_Hz, double marked_F) {
  return {units::farads(marked_F),
          {},
          {{units::volts(across_V), units::volts(0.01 * across_V)}},
          {{units::amperes(through_A), units::amperes(0.02 * through_A)}},
          units::hertz(supply_Hz)};
}

}  // namespace

// Oracle: reference/oracles, rows S091 to S095 of the standards' check values, I = 2 pi f C U.
TEST_CASE("volts and amperes in circuit give the capacitance that passes that current") {
  struct row {
    double through_mA, across_V, supply_Hz, nF;
  };
  for (const auto& [through_mA, across_V, supply_Hz, nF] :
       {row{0.5, 230, 50, 6.920}, row{0.75, 230, 50, 10.380}, row{3.5, 230, 50, 48.438}, row{0.5, 120, 60, 11.052},
        row{0.75, 120, 60, 16.579}}) {
    const auto found = checks::capacitor(in_circuit(across_V, 1e-3 * through_mA, supply_Hz, 1e-9 * nF));
    REQUIRE(found);
    CHECK(testing::near_absolute(1e9 * units::in_farads(found->measured.value), nF, 0.0006));
    CHECK(std::abs(found->deviation_percent.value) < 0.01);
    // 1 % of volts and 2 % of amperes, independent of each other.
    CHECK(testing::near_relative(found->deviation_percent.standard_uncertainty, 100.0 * std::hypot(0.01, 0.02), 1e-3));
  }
}

TEST_CASE("a meter's reading goes before volts and amperes, and nothing read gives nothing") {
  auto in = in_circuit(300.0, 0.3, 50.0, 4e-6);
  in.by_meter = {units::farads(2e-6), units::farads(4e-8)};
  CHECK(testing::near_relative(checks::capacitor(in)->deviation_percent.value, -50.0, 1e-9));
  CHECK(testing::near_relative(checks::capacitor(in)->deviation_percent.standard_uncertainty, 1.0, 1e-9));
  in.by_meter.reset();
  in.through.reset();
  CHECK_FALSE(checks::capacitor(in));
}
