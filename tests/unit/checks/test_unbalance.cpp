// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <array>
#include <cmath>
#include <random>

#include <near.hpp>
#include <rewound/base/error.hpp>
#include <rewound/checks/rolled_leads.hpp>
#include <rewound/checks/unbalance.hpp>

namespace base = rewound::base;
namespace units = rewound::units;
using rewound::checks::rolled_leads;
using rewound::checks::unbalance_percent;
using rewound::testing::near_absolute;

namespace {

using line_currents = std::array<units::current, 3>;

line_currents three_lines(double a, double b, double c) {
  return {units::amperes(a), units::amperes(b), units::amperes(c)};
}

}  // namespace

TEST_CASE("unbalance has no unit, no order and is 200 percent when one line carries all") {
  CHECK(near_absolute(unbalance_percent(three_lines(3.3, 2.9, 3.4)), unbalance_percent(three_lines(34, 33, 29)), 1e-9));
  CHECK(near_absolute(unbalance_percent(three_lines(1, 0, 0)), 200.0, 1e-9));
  CHECK(unbalance_percent(three_lines(5, 5, 5)) == 0.0);
  CHECK_THROWS_AS(unbalance_percent(three_lines(0, 0, 0)), base::error);
}

TEST_CASE("the two parts add up to what was read, whatever the currents") {
  std::mt19937 random(7);
  std::uniform_real_distribution<double> near_one(0.8, 1.2);
  for (int n = 0; n < 100; ++n) {
    const auto before = three_lines(near_one(random), near_one(random), near_one(random));
    const auto after = three_lines(near_one(random), near_one(random), near_one(random));
    const int shift = 1 + n % 2;
    const auto out = rolled_leads({before, after, shift, units::amperes(0.001)});
    double sum = 0.0;
    double after_mean = (after[0] + after[1] + after[2]).value() / 3.0;
    for (std::size_t i = 0; i < 3; ++i) {
      sum += out.winding[i];
      const auto came_from = (i + 3 - static_cast<std::size_t>(shift)) % 3;
      CHECK(near_absolute(out.line[i] + out.winding[came_from], 100.0 * (after[i].value() / after_mean - 1.0), 1e-9));
    }
    CHECK(near_absolute(sum, 0.0, 1e-9));
  }
}

TEST_CASE("the uncertainty of a part is what repeated readings scatter by") {
  std::mt19937 random(11);
  std::normal_distribution<double> digit(0.0, 0.01);
  const auto read = [&](double a, double b, double c) {
    return three_lines(a + digit(random), b + digit(random), c + digit(random));
  };
  double squares = 0.0;
  double u = 0.0;
  constexpr int runs = 4000;
  for (int n = 0; n < runs; ++n) {
    // windings +6 -2 -4 percent, lines even
    const auto out = rolled_leads({read(1.06, 0.98, 0.96), read(0.96, 1.06, 0.98), 1, units::amperes(0.01)});
    squares += std::pow(out.winding[0] - 6.0, 2) / runs;
    u = out.winding_percent.standard_uncertainty;
  }
  CHECK(near_absolute(std::sqrt(squares) / u, 1.0, 0.05));
}

TEST_CASE("leads are rolled by one line or two") {
  CHECK_THROWS_AS(rolled_leads({three_lines(1, 1, 1), three_lines(1, 1, 1), 3, units::amperes(0)}), base::error);
  CHECK_THROWS_AS(rolled_leads({three_lines(1, 1, 1), three_lines(0, 0, 0), 1, units::amperes(0)}), base::error);
}
