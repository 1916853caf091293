// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <cmath>

#include <near.hpp>
#include <rewound/machine/curve_shapes.hpp>

namespace machine = rewound::machine;
using rewound::testing::near_absolute;

TEST_CASE("the kinds of curve share one unit of probability") {
  double sum = 0.0;
  for (const auto& kind : machine::curve_kinds()) {
    CHECK(kind.weight > 0.0);
    sum += kind.weight;
  }
  CHECK(near_absolute(sum, 1.0, 1e-5));  // six decimals in the table
}

TEST_CASE("at the rated voltage every shape function is 0, so a curve's level is its value there") {
  for (const double value : machine::shape_functions_at(0.0).values) CHECK(near_absolute(value, 0.0, 1e-5));
}

TEST_CASE("shape functions are continuous, and beyond the table the exponent's change widens what is known") {
  for (double z = -1.4; z < 0.4; z += 0.01) {
    const auto a = machine::shape_functions_at(z);
    const auto b = machine::shape_functions_at(z + 1e-6);
    for (std::size_t i = 0; i < a.values.size(); ++i) CHECK(near_absolute(a.values[i], b.values[i], 1e-3));
  }
  CHECK(machine::shape_functions_at(-0.5).beyond_uncertainty == 0.0);
  CHECK(near_absolute(machine::shape_functions_at(std::log(0.15)).beyond_uncertainty, 0.3 * std::log(2.0), 1e-5));
}

TEST_CASE("exponents near the rated voltage spread as machines are known to: from below 0 to above 1.5") {
  // Mean and spread over all kinds of the local exponent between 90 and 100 % of the rated voltage. Loaded fans lie
  // from about -1 to 1.5, bare shafts from 1.2 to 2 (common practice, no source; the project's own simulation agrees).
  const double z = std::log(0.9);
  const auto row = machine::shape_functions_at(z).values;
  double mean = 0.0;
  double square = 0.0;
  for (const auto& kind : machine::curve_kinds()) {
    double own = 0.0;
    double variance = 0.0;
    for (std::size_t i = 0; i < row.size(); ++i) own += row[i] * kind.mean[i] / z;
    for (std::size_t j = 0; j < row.size(); ++j) {
      double loading = 0.0;
      for (std::size_t i = 0; i < row.size(); ++i) loading += row[i] * kind.factor[i][j] / z;
      variance += loading * loading;
    }
    mean += kind.weight * own;
    square += kind.weight * (own * own + variance);
  }
  const double deviation = std::sqrt(square - mean * mean);
  CHECK(mean > 0.6);
  CHECK(mean < 1.6);
  CHECK(mean - 2.0 * deviation < 0.0);
  CHECK(mean + 1.5 * deviation > 1.5);
}
