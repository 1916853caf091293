// SPDX-License-Identifier: MIT
#include <cmath>
#include <limits>
#include <string>
#include <vector>

#include <doctest/doctest.h>

#include <rewound/base/error.hpp>
#include <rewound/fit/fit_curves.hpp>

#include "near.hpp"
#include "row_alone.hpp"

namespace {

using namespace rewound;
using testing::near_relative;

/// Three bent curves of seven readings; the second lacks one.
struct bent_table {
  std::vector<double> voltage, current, weight, rated{230.0, 115.0, 230.0};

  bent_table() {
    for (std::size_t row = 0; row < 3; ++row)
      for (int i = 0; i < 7; ++i) {
        const double x = 0.4 + 0.1 * i;
        voltage.push_back(rated[row] * x);
        current.push_back((0.3 * x + 0.1 * std::pow(x, 5.0)) * (i % 2 == 0 ? 1.002 : 0.998));
        weight.push_back(1.0 / std::pow(0.01 * current.back(), 2));
      }
    current[9] = std::numeric_limits<double>::quiet_NaN();
  }

  fit::curve_table view(bool weighted) const {
    return {3, 7, voltage.data(), current.data(), weighted ? weight.data() : nullptr, rated.data()};
  }

  fit::curve_readings of_row(std::size_t row, bool weighted) const { return testing::row_alone(view(weighted), row); }
};

std::string refused(const fit::curve_table& table, const fit::table_options& options = {}) {
  try {
    fit::fit_curves(table, options);
  } catch (const base::error& trouble) {
    return trouble.where().field;
  }
  return "nothing";
}

}  // namespace

TEST_CASE("a row of a table is fitted as the curve alone, of every family, in lanes and one by one") {
  const bent_table table;
  using enum fit::curve_family;
  for (const bool weighted : {true, false})
    for (const auto family : {power, log_quadratic, magnetising})
      for (const bool robust : {false, true}) {
        const auto found = fit::fit_curves(table.view(weighted), {.family = family, .robust = robust, .threads = 2});
        REQUIRE(found.size() == 3);
        for (std::size_t row = 0; row < 3; ++row) {
          const auto alone = fit::fit_curve(table.of_row(row, weighted), family, robust);
          const auto here = found.curve(row);
          REQUIRE(here.usable());
          CHECK(here.family == family);
          CHECK(here.degrees_of_freedom == alone.degrees_of_freedom);
          CHECK(near_relative(here.chi2, alone.chi2, 1e-8));
          CHECK(near_relative(here.reading_variance, alone.reading_variance, 1e-8));
          for (Eigen::Index i = 0; i < here.parameters.size(); ++i)
            CHECK(near_relative(here.parameters[i], alone.parameters[i], 1e-6));
        }
      }
}

TEST_CASE("curves whose families were chosen stand side by side, and what the shorter ones lack is no number") {
  bent_table table;
  for (std::size_t i = 14; i < 21; ++i) table.current[i] = 0.3 * table.voltage[i] / 230.0;
  for (std::size_t i = 15; i < 21; ++i) table.current[i] = std::numeric_limits<double>::quiet_NaN();
  const auto found = fit::fit_curves(table.view(true));
  CHECK(found.family_of(2) == fit::curve_family::proportional);
  REQUIRE(found.width > 1);
  CHECK(near_relative(found.parameters[2 * found.width], 0.3, 1e-12));
  CHECK(std::isnan(found.parameters[2 * found.width + 1]));
  CHECK(found.curve(2).parameters.size() == 1);
}

TEST_CASE("a table predicts what its curves predict alone") {
  const bent_table table;
  const std::vector<double> at{200.0, 240.0, 100.0, 120.0, 150.0, 230.0};
  for (const bool weighted : {true, false}) {
    const auto found = fit::fit_curves(table.view(weighted), {.family = fit::curve_family::magnetising});
    std::vector<double> value(6), low(6), high(6);
    fit::predict(found, at.data(), 2, 0.9, true, {value.data(), low.data(), high.data()});
    std::vector<double> shared(3 * value.size());
    double* const to = shared.data();
    fit::predict(found, at.data(), 2, 0.9, true, {to, to + value.size(), to + 2 * value.size()}, nullptr, true);
    for (std::size_t i = 0; i < 2; ++i) {
      CHECK(shared[i] == value[i]);
      CHECK(shared[value.size() + i] == low[i]);
    }
    for (std::size_t i = 0; i < 6; ++i) {
      const auto alone = fit::predict(found.curve(i / 2), at[i] / table.rated[i / 2], 0.9, true);
      CHECK(near_relative(value[i], alone.value, 1e-10));
      CHECK(near_relative(low[i], alone.low, 1e-8));
      CHECK(near_relative(high[i], alone.high, 1e-8));
    }
  }
}

TEST_CASE("a table names the reading that cannot be") {
  bent_table table;
  auto lacking = table.view(false);
  lacking.may_lack = false;
  CHECK(refused(lacking) == "current[2]");
  table.voltage[8] = -1.0;
  CHECK(refused(table.view(false)) == "voltage[1, 1]");
  CHECK(refused(table.view(true), {.family = fit::curve_family::power}) == "voltage[1, 1]");
  CHECK(refused(table.view(true), {.threads = 0}) == "threads");
  auto both = table.view(true);
  both.current_u_A = table.weight.data();
  CHECK(refused(both) == "weights");
}
