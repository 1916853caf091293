// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <near.hpp>
#include <rewound/base/error.hpp>
#include <rewound/measurement/conformity.hpp>

using rewound::measurement::conformity_probability;
using rewound::testing::near_absolute;

// The published examples stand in reference/oracles/physics/statistics.csv; here are the laws.
TEST_CASE("a value on its limit conforms with even odds") {
  CHECK(near_absolute(conformity_probability(0.5, 0.01, {{}, 0.5}), 0.5, 1e-15));
  CHECK(near_absolute(conformity_probability(0.5, 0.01, {0.5, {}}), 0.5, 1e-15));
}

TEST_CASE("conforming to an upper and to the same lower limit share the whole probability") {
  const double above = conformity_probability(4.9, 0.2, {5.0, {}});
  const double below = conformity_probability(4.9, 0.2, {{}, 5.0});
  CHECK(near_absolute(above + below, 1.0, 1e-15));
  CHECK(above < below);
}

TEST_CASE("without a limit everything conforms") { CHECK(conformity_probability(1e9, 1.0, {}) == 1.0); }

TEST_CASE("an exact value is judged as it stands, and inside on the limit") {
  CHECK(conformity_probability(5.0, 0.0, {5.0, {}}) == 1.0);
  CHECK(conformity_probability(5.0, 0.0, {{}, 5.0}) == 1.0);
  CHECK(conformity_probability(5.0000001, 0.0, {{}, 5.0}) == 0.0);
}

TEST_CASE("a negative uncertainty is refused") {
  CHECK_THROWS_AS(conformity_probability(1.0, -0.1, {{}, 2.0}), rewound::base::error);
}
