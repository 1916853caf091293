// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <cmath>
#include <vector>

#include <near.hpp>
#include <oracle_table.hpp>
#include <rewound/base/error.hpp>
#include <rewound/measurement/binomial.hpp>

namespace measurement = rewound::measurement;
using inputs = rewound::testing::row_inputs;

namespace {

measurement::interval<double> of(const inputs& in) {
  const auto count = [&](const char* key) { return static_cast<int>(in(key)); };
  return measurement::difference_of_proportions(count("k1"), count("n1"), count("k2"), count("n2"), in("level"));
}

double binomial(int k, int n, double p) {
  return std::exp(std::lgamma(n + 1.0) - std::lgamma(k + 1.0) - std::lgamma(n - k + 1.0) + k * std::log(p) +
                  (n - k) * std::log1p(-p));
}

/// Probability that the 95 % interval holds the true difference: a sum over every outcome, no simulation.
double coverage(int n1, double p1, int n2, double p2) {
  double held = 0.0;
  for (int k1 = 0; k1 <= n1; ++k1)
    for (int k2 = 0; k2 <= n2; ++k2) {
      const auto found = measurement::difference_of_proportions(k1, n1, k2, n2, 0.95);
      if (found.low <= p1 - p2 && p1 - p2 <= found.high) held += binomial(k1, n1, p1) * binomial(k2, n2, p2);
    }
  return held;
}

}  // namespace

TEST_CASE("intervals of a share and of a difference of two: every row of the oracle table is met") {
  rewound::testing::check_table(
      "physics/difference.csv",
      {{"wilson_low",
        [](const inputs& in) {
          return measurement::wilson(static_cast<int>(in("k")), static_cast<int>(in("n")), in("level")).low;
        }},
       {"wilson_high",
        [](const inputs& in) {
          return measurement::wilson(static_cast<int>(in("k")), static_cast<int>(in("n")), in("level")).high;
        }},
       {"difference_low", [](const inputs& in) { return of(in).low; }},
       {"difference_high", [](const inputs& in) { return of(in).high; }}});
}

TEST_CASE("the 95 % interval of a difference holds the truth 94 times of 100 or more over small and unequal counts") {
  double least = 1.0;
  double sum = 0.0;
  int cases = 0;
  for (const auto& [n1, n2] : {std::pair{5, 20}, std::pair{10, 10}, std::pair{10, 30}, std::pair{20, 20}})
    for (const double p1 : {0.6, 0.8, 0.9, 0.95, 0.99})
      for (const double p2 : {0.5, 0.7, 0.9, 0.95, 0.99}) {
        const double held = coverage(n1, p1, n2, p2);
        least = std::min(least, held);
        sum += held;
        ++cases;
      }
  MESSAGE("least " << 100.0 * least << " %, mean " << 100.0 * sum / cases << " %");
  CHECK(least > 0.94);
  CHECK(sum / cases > 0.945);
  CHECK(sum / cases < 0.985);
}

TEST_CASE("exchanging the two turns the interval round, and it stays within -1 and 1") {
  for (const auto& [k1, k2] : {std::pair{0, 0}, std::pair{10, 0}, std::pair{0, 7}, std::pair{10, 7}, std::pair{4, 3}}) {
    const auto one = measurement::difference_of_proportions(k1, 10, k2, 7, 0.9);
    const auto other = measurement::difference_of_proportions(k2, 7, k1, 10, 0.9);
    CHECK(rewound::testing::near_absolute(one.low, -other.high, 1e-12));
    CHECK(one.low >= -1.0);
    CHECK(one.high <= 1.0);
    CHECK(one.high - one.low > 0.1);
  }
  CHECK_THROWS_AS(measurement::difference_of_proportions(1, 0, 1, 1, 0.9), rewound::base::error);
  CHECK_THROWS_AS(measurement::difference_of_proportions(2, 1, 1, 1, 0.9), rewound::base::error);
  CHECK_THROWS_AS(measurement::wilson(1, 1, 1.0), rewound::base::error);
}

TEST_CASE("the ways to choose are those of Pascal's triangle, and their logarithm goes on where they do not fit") {
  std::vector<double> row{1.0};
  for (int n = 0; n <= 40; ++n) {
    for (int k = 0; k <= n; ++k)
      CHECK(std::abs(measurement::log_ways(n, k) - std::log(row[static_cast<std::size_t>(k)])) < 1e-12);
    std::vector<double> next(row.size() + 1, 1.0);
    for (std::size_t k = 1; k < row.size(); ++k) next[k] = row[k - 1] + row[k];
    row = next;
  }
  // Stirling's series for 2n choose n, n = 1e6: ln(4^n / sqrt(pi n)) - 1 / (8 n).
  const double n = 1e6;
  const double expected = 2.0 * n * std::log(2.0) - 0.5 * std::log(std::acos(-1.0) * n) - 1.0 / (8.0 * n);
  CHECK(std::abs(measurement::log_ways(2000000, 1000000) / expected - 1.0) < 1e-12);
  CHECK_THROWS_AS(measurement::log_ways(3, 4), rewound::base::error);
  CHECK_THROWS_AS(measurement::log_ways(3, -1), rewound::base::error);
}
