// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <cmath>

#include <near.hpp>
#include <rewound/base/error.hpp>
#include <rewound/checks/repeated_tries.hpp>
#include <rewound/checks/start_positions.hpp>
#include <rewound/checks/starting.hpp>

using rewound::checks::counted_starts;
using rewound::checks::fisher_exact;
using rewound::checks::repeated_tries;
using rewound::checks::start_positions;
using rewound::checks::starting;
using rewound::testing::near_absolute;
using rewound::testing::near_relative;

TEST_CASE("starts without failure prove the nth root of five percent") {
  for (const int n : {5, 10, 59, 1000000}) {
    CAPTURE(n);
    const auto result = starting({n, n});
    CHECK(result.share == 1.0);
    CHECK(near_relative(result.reliability_low, std::pow(0.05, 1.0 / n), 1e-9));
    CHECK(result.reliability_low < 1.0);
  }
}

TEST_CASE("59 starts in a row prove 95 percent at 95 percent confidence, 58 do not") {
  // 0.95^58 = 0.0510 and 0.95^59 = 0.0485.
  CHECK(starting({5, 5}).clean_starts_needed == 59);
  CHECK(starting({5, 5}).further_starts == 54);
  CHECK(starting({58, 58}).further_starts == 1);
  CHECK(starting({59, 59}).further_starts == 0);
}

TEST_CASE("further starts take the failures along, and prove the claim and no more") {
  for (const auto& [attempts, successes] : {counted_starts{10, 9}, {3, 0}, {200, 190}}) {
    const auto attempts_shown = attempts;
    CAPTURE(attempts_shown);
    const int further = starting({attempts, successes}).further_starts.value();
    CHECK(starting({attempts + further, successes + further}).reliability_low >= 0.95);
    CHECK(starting({attempts + further - 1, successes + further - 1}).reliability_low < 0.95);
  }
}

TEST_CASE("a claim that no bench can prove is absent, not endless") {
  CHECK_FALSE(starting({1000000, 0, 0.95, 0.9999}).further_starts.has_value());
}

TEST_CASE("one failure proves less than none, and nothing is proved by failures alone") {
  CHECK(starting({10, 9}).reliability_low < starting({10, 10}).reliability_low);
  CHECK(starting({10, 9}).share == 0.9);
  CHECK(starting({10, 0}).reliability_low == 0.0);
  CHECK(starting({10, 10}).reliability.high == 1.0);
  // two-sided: half of the tail below
  CHECK(near_relative(starting({10, 10}).reliability.low, std::pow(0.025, 0.1), 1e-9));
}

TEST_CASE("claims and confidences outside their range are refused") {
  using rewound::base::error;
  CHECK_THROWS_AS(starting({5, 5, 0.95, 1.0}), error);
  CHECK_THROWS_AS(starting({5, 5, 1.0, 0.95}), error);
  CHECK_THROWS_AS(starting({5, 6}), error);
  CHECK_THROWS_AS(starting({0, 0}), error);
  CHECK_THROWS_AS(fisher_exact({0, 0}, {1, 1}), error);
}

TEST_CASE("Fisher's test is the same whichever position and whichever event is named first") {
  const double p = fisher_exact({20, 14}, {15, 15});
  CHECK(near_relative(fisher_exact({15, 15}, {20, 14}), p, 1e-12));
  CHECK(near_relative(fisher_exact({20, 6}, {15, 0}), p, 1e-12));
  CHECK(fisher_exact({7, 7}, {9, 9}) == 1.0);
}

TEST_CASE("the position that stands out is found among three, at three times the probability of two") {
  const auto three = start_positions({{10, 10}, {10, 5}, {10, 10}});
  REQUIRE(three);
  CHECK(three->worst == 1);
  CHECK(three->comparisons == 3);
  CHECK(three->others.attempts == 20);
  CHECK(near_relative(three->probability, 3.0 * fisher_exact({10, 5}, {20, 20}), 1e-12));
  const auto two = start_positions({{10, 5}, {20, 20}});
  REQUIRE(two);
  CHECK(near_relative(two->probability, fisher_exact({10, 5}, {20, 20}), 1e-12));
}

TEST_CASE("without a failure, a second position or a difference there is nothing to compare") {
  CHECK_FALSE(start_positions({{10, 10}, {5, 5}}));
  CHECK_FALSE(start_positions({{10, 5}}));
  CHECK_FALSE(start_positions({{10, 5}, {20, 10}}));
}

TEST_CASE("a drift from try to try shows through its scatter, and never beats the meter") {
  CHECK_FALSE(repeated_tries({{100.0, 110.0}, 0.1}));
  // slope 10.5, residuals -1, 0.5, 2, -1.5: s = sqrt(7.5 / 2), t(0.975; 2) = 4.3027, half = t s / sqrt 5
  const auto rising = repeated_tries({{100.0, 112.0, 124.0, 131.0}, 0.1});
  REQUIRE(rising);
  CHECK(near_absolute(rising->slope, 10.5, 1e-12));
  CHECK(near_absolute(rising->half_width, 4.302653 * std::sqrt(7.5 / 2.0 / 5.0), 1e-5));
  CHECK(rising->certain());
  const auto straight = repeated_tries({{100.0, 101.0, 102.0}, 1.0});
  REQUIRE(straight);
  CHECK(near_absolute(straight->half_width, 12.7062 / std::sqrt(2.0), 1e-3));
  CHECK_FALSE(straight->certain());
}
