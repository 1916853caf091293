// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <cmath>

#include <near.hpp>
#include <rewound/checks/starting.hpp>

using rewound::checks::starting;
using rewound::testing::near_relative;

TEST_CASE("starts without failure prove the nth root of five percent") {
  for (const int n : {5, 10, 59}) {
    CAPTURE(n);
    const auto result = starting({n, n});
    CHECK(result.share == 1.0);
    CHECK(near_relative(result.reliability_low, std::pow(0.05, 1.0 / n), 1e-9));
  }
}

TEST_CASE("59 starts in a row prove 95 percent at 95 percent confidence") {
  // 0.95^58 = 0.0510 and 0.95^59 = 0.0485.
  CHECK(starting({5, 5}).attempts_for_95_percent == 59);
}

TEST_CASE("one failure proves less than none, and nothing is proved by failures alone") {
  CHECK(starting({10, 9}).reliability_low < starting({10, 10}).reliability_low);
  CHECK(starting({10, 9}).share == 0.9);
  CHECK(starting({10, 0}).reliability_low == 0.0);
}
