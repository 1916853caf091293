// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <cmath>
#include <vector>

#include <near.hpp>
#include <rewound/base/error.hpp>
#include <rewound/checks/level.hpp>

namespace checks = rewound::checks;
using rewound::testing::near_relative;

namespace {

/// Speeds that lie off by these logarithms, each known to `own` by itself and all alike to `common`.
checks::level_result off_by(const std::vector<double>& logs, double own, double common) {
  checks::level_input in{{}, common, own};
  for (const double log : logs) in.speeds.push_back({"", log, 0.0, 0.0, 0.0});
  return checks::level(in);
}

/// P(chi2 > value) for one and for two degrees of freedom in closed form.
double tail_1(double value) { return std::erfc(std::sqrt(value / 2.0)); }
double tail_2(double value) { return std::exp(-value / 2.0); }

}  // namespace

TEST_CASE("one speed is judged by its own whole uncertainty") {
  const auto result = off_by({0.04}, 0.01, 0.02);
  CHECK(near_relative(result.log_ratio.front().value, 0.04, 1e-12));
  CHECK(near_relative(result.log_ratio.front().standard_uncertainty, std::hypot(0.01, 0.02), 1e-12));
  CHECK(near_relative(result.p_value, tail_1(0.0016 / 0.0005), 1e-10));
}

TEST_CASE("a common error excuses speeds that lie off alike") {
  // Inverse of own^2 I + common^2 J on (a, a): 2 a^2 / (own^2 + 2 common^2).
  const double chi2 = 2.0 * 0.03 * 0.03 / (0.01 * 0.01 + 2.0 * 0.02 * 0.02);
  CHECK(near_relative(off_by({0.03, 0.03}, 0.01, 0.02).p_value, tail_2(chi2), 1e-10));
}

TEST_CASE("a common error cancels nothing where speeds lie off against each other") {
  // On (a, -a) the common part drops out: 2 a^2 / own^2, whatever the common error.
  const double p = tail_2(2.0 * 0.03 * 0.03 / (0.01 * 0.01));
  CHECK(near_relative(off_by({0.03, -0.03}, 0.01, 0.02).p_value, p, 1e-10));
  CHECK(near_relative(off_by({0.03, -0.03}, 0.01, 0.5).p_value, p, 1e-8));
}

TEST_CASE("both visits' own uncertainties add to that between visits") {
  const auto result = checks::level({{{"high", 0.05, 0.0, 0.003, 0.004}}, 0.0, 0.012});
  CHECK(near_relative(result.log_ratio.front().standard_uncertainty, 0.013, 1e-12));
}

TEST_CASE("speeds that lie where they should give no evidence at all") {
  CHECK(off_by({0.0, 0.0, 0.0}, 0.01, 0.02).p_value == 1.0);
}

TEST_CASE("no speeds, or no uncertainty of their own, cannot be judged") {
  CHECK_THROWS_AS(off_by({}, 0.01, 0.02), rewound::base::error);
  CHECK_THROWS_AS(off_by({0.01, 0.02}, 0.0, 0.02), rewound::base::error);
}
