// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <oracle_table.hpp>
#include <rewound/checks/start_positions.hpp>
#include <rewound/checks/starting.hpp>

namespace checks = rewound::checks;
using inputs = rewound::testing::row_inputs;

namespace {

double fisher(const inputs& in) {
  const auto count = [&](const char* key) { return static_cast<int>(in(key)); };
  return checks::fisher_exact({count("n1"), count("s1")}, {count("n2"), count("s2")});
}

/// Starts in all, failures among them, that prove the claim: reached from the failures alone.
double starts_in_all(const inputs& in) {
  const int failures = static_cast<int>(in("failures"));
  const double confidence = in("confidence");
  const double claim = in("claim");
  if (failures == 0) return checks::starting({1, 1, confidence, claim}).clean_starts_needed;
  return failures + checks::starting({failures, 0, confidence, claim}).further_starts.value();
}

}  // namespace

TEST_CASE("starting: every row of the oracle table is met") {
  rewound::testing::check_table("physics/starting.csv", {{"fisher", fisher}, {"starts_in_all", starts_in_all}});
}
