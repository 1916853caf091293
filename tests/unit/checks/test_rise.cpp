// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <rewound/base/error.hpp>
#include <rewound/checks/rise.hpp>

using namespace rewound;

namespace {

checks::rise_result rise_of(double exponent, double u, bool bare = false, double higher_V = 120.0) {
  return checks::rise({{exponent, u}, units::volts(110.0), units::volts(higher_V), bare});
}

}  // namespace

TEST_CASE("a usual rise is usual, and one of 40 % for 9 % more voltage is not") {
  CHECK(rise_of(1.3, 0.3).probability > 0.2);
  CHECK(rise_of(3.89, 0.33).probability < 0.001);  // 0.82 A at 110 V, 1.15 A at 120 V
}

TEST_CASE("the steeper the rise the fewer machines show it; a vaguer reading tells less") {
  double before = 1.0;
  for (double exponent = -1.0; exponent < 5.0; exponent += 0.25) {
    const double now = rise_of(exponent, 0.2).probability;
    CHECK(now < before);
    before = now;
  }
  CHECK(rise_of(3.0, 1.5).probability > rise_of(3.0, 0.1).probability);
}

TEST_CASE("one of a hundred machines is above the stated exponent, and a bare shaft is steeper than a fan") {
  for (const bool bare : {false, true}) {
    const auto most = rise_of(1.0, 0.0, bare).most;
    const auto at_most = rise_of(most, 0.0, bare).probability;
    CHECK(at_most > 0.0099);
    CHECK(at_most < 0.0101);
  }
  CHECK(rise_of(1.0, 0.0, true).most > rise_of(1.0, 0.0, false).most);
  CHECK(rise_of(1.0, 0.0, true).usual > rise_of(1.0, 0.0, false).usual);
}

TEST_CASE("a voltage not above the rated one is refused") {
  CHECK_THROWS_AS(rise_of(1.0, 0.1, false, 110.0), base::error);
}
