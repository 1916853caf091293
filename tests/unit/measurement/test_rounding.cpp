// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <limits>

#include <near.hpp>
#include <rewound/measurement/rounding.hpp>

using rewound::measurement::decimals_for;
using rewound::measurement::rounded;

TEST_CASE("decimals follow the uncertainty: one significant digit, two when it would be a 1") {
  struct row {
    double half_width;
    int decimals;
  };
  for (const auto& [half_width, decimals] :
       {row{0.05, 2}, row{0.012, 3}, row{0.019, 3}, row{0.021, 2}, row{0.1, 2}, row{0.001, 4}, row{3.0, 0}, row{1.2, 1},
        row{12.0, 0}, row{25.0, -1}, row{7300.0, -3}}) {
    const auto half_width_shown = half_width;
    CAPTURE(half_width_shown);
    CHECK(decimals_for(half_width) == decimals);
  }
}

TEST_CASE("an uncertainty that is none falls back to the decimals asked for") {
  CHECK(decimals_for(0.0) == 3);
  CHECK(decimals_for(0.0, 1) == 1);
  CHECK(decimals_for(std::numeric_limits<double>::infinity(), 2) == 2);
  CHECK(decimals_for(std::numeric_limits<double>::quiet_NaN(), 2) == 2);
}

TEST_CASE("a value is rounded half away from zero, also left of the point") {
  using rewound::testing::near_absolute;
  CHECK(near_absolute(rounded(0.6149, 2), 0.61, 1e-15));
  CHECK(rounded(-2.5, 0) == -3.0);
  CHECK(near_absolute(rounded(1234.0, -2), 1200.0, 1e-9));
}
