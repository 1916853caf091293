// SPDX-License-Identifier: MIT
#include <cmath>
#include <limits>
#include <vector>

#include <doctest/doctest.h>

#include <rewound/base/error.hpp>
#include <rewound/fit/batch_fit.hpp>
#include <rewound/fit/batch_prediction.hpp>

#include "near.hpp"

namespace {

using namespace rewound;
using testing::near_relative;

/// Curves I = a x^n without scatter but for two opposite deviations, eight readings each.
struct power_table {
  std::vector<double> voltage, current, weight, rated;

  explicit power_table(std::size_t curves) {
    for (std::size_t i = 0; i < curves; ++i) {
      rated.push_back(230.0);
      for (int j = 0; j < 8; ++j) {
        const double x = 0.4 + 0.1 * j;
        voltage.push_back(230.0 * x);
        current.push_back(0.3 * std::pow(x, exponent(i)) * (1.0 + (j % 2 == 0 ? 1e-3 : -1e-3)));
        weight.push_back(1.0);
      }
    }
  }

  static double exponent(std::size_t curve) { return 0.8 + 0.1 * static_cast<double>(curve); }

  fit::curve_table view() const {
    return {rated.size(), 8, voltage.data(), current.data(), weight.data(), rated.data()};
  }
};

struct answers {
  std::vector<double> parameters, covariance, chi2;
  std::vector<int> degrees;
  std::vector<unsigned char> certified;

  explicit answers(std::size_t curves)
      : parameters(2 * curves), covariance(4 * curves), chi2(curves), degrees(curves), certified(curves) {}

  fit::fit_table view() {
    return {parameters.data(), covariance.data(), chi2.data(), degrees.data(), certified.data()};
  }
};

}  // namespace

TEST_CASE("every width finds the power law that made the readings") {
  // Source: the curves that made them; the deviations alternate and hardly move the exponent.
  const power_table table(11);
  for (const auto set : fit::instruction_sets()) {
    CAPTURE(fit::name(set));
    answers found(11);
    fit::fit_batch(table.view(), fit::curve_family::power, false, 0, 11, found.view(), set);
    for (std::size_t i = 0; i < 11; ++i) {
      CHECK(found.certified[i] == 1);
      CHECK(found.degrees[i] == 6);
      CHECK(near_relative(found.parameters[2 * i], 0.3, 2e-3));
      CHECK(near_relative(found.parameters[2 * i + 1], power_table::exponent(i), 5e-3));
    }
  }
}

TEST_CASE("a reading that cannot be leaves its curve uncertified and no other") {
  for (const double bad : {-1.0, 0.0, std::numeric_limits<double>::infinity()}) {
    power_table table(9);
    table.current[8 * 4 + 3] = bad;
    answers found(9);
    fit::fit_batch(table.view(), fit::curve_family::power, false, found.view());
    for (std::size_t i = 0; i < 9; ++i) CHECK(found.certified[i] == (i == 4 ? 0 : 1));
  }
}

TEST_CASE("absent readings leave a curve to the others, down to fewer than it has parameters") {
  power_table table(11);
  for (std::size_t row = 0; row < 9; ++row)
    for (std::size_t i = 0; i < row; ++i)
      table.current[8 * row + (3 * i) % 8] = std::numeric_limits<double>::quiet_NaN();
  for (const auto set : fit::instruction_sets()) {
    CAPTURE(fit::name(set));
    answers found(11);
    fit::fit_batch(table.view(), fit::curve_family::power, false, 0, 11, found.view(), set);
    for (std::size_t row = 0; row < 9; ++row) {
      CAPTURE(row);
      CHECK(found.certified[row] == (row <= 6 ? 1 : fit::too_few_readings));
      if (row > 6) continue;
      CHECK(found.degrees[row] == 6 - static_cast<int>(row));
      CHECK(near_relative(found.parameters[2 * row + 1], power_table::exponent(row), 2e-2));
      CHECK(std::isnan(found.covariance[4 * row]) == (row == 6));
    }
  }
}

TEST_CASE("currents on both sides of a fitted curve are its interval") {
  // Source: with C the covariance at x = 1, where the gradient is (1, 0): half width t sqrt(C00 + chi2 / 6), and
  // Student's 97.5 % point at 6 degrees of freedom, 2.446912 (from memory of the tables, unverified; SciPy agrees).
  const power_table table(3);
  answers found(3);
  fit::fit_batch(table.view(), fit::curve_family::power, false, found.view());
  const double at = 230.0;
  double value[3], low[3], high[3];
  fit::predict_batch(found.view(), fit::curve_family::power, {&at, 1, true, table.rated.data()}, 0.95, true, 0, 3,
                     {value, low, high});
  for (std::size_t i = 0; i < 3; ++i) {
    const double half = 2.4469118 * std::sqrt(found.covariance[4 * i] + found.chi2[i] / 6.0);
    CHECK(near_relative(value[i], found.parameters[2 * i], 1e-14));
    CHECK(near_relative(high[i] - value[i], half, 1e-6));
    CHECK(near_relative(value[i] - low[i], half, 1e-6));
  }
}

TEST_CASE("what the solver of many curves does not know is refused") {
  const power_table table(1);
  answers found(1);
  CHECK_THROWS_AS(fit::fit_batch(table.view(), fit::curve_family::magnetising_load, false, found.view()), base::error);
  CHECK_THROWS_AS(fit::fit_batch(table.view(), fit::curve_family::magnetising, true, found.view()), base::error);
  auto wide = table.view();
  wide.readings = fit::most_readings + 1;
  CHECK_THROWS_AS(fit::fit_batch(wide, fit::curve_family::power, false, found.view()), base::error);
}
