// SPDX-License-Identifier: MIT
#include <cmath>
#include <cstddef>
#include <limits>
#include <random>
#include <set>
#include <vector>

#include <doctest/doctest.h>

#include <rewound/fit/curve_choice.hpp>
#include <rewound/fit/fit_curves.hpp>

#include "near.hpp"
#include "row_alone.hpp"

namespace {

using namespace rewound;
using testing::near_relative;

constexpr std::size_t readings_each = 10;
constexpr double rated_V = 230.0;

double amperes(std::size_t kind, double x) {
  switch (kind) {
    case 0: return 0.4 * std::pow(x, 1.1);
    case 1: return 0.4 * std::exp(1.1 * std::log(x) + 0.6 * std::log(x) * std::log(x));
    case 2: return 0.3 * x + 0.1 * std::pow(x, 6.0);
    default: return std::hypot(0.1 / x, 0.3 * x + 0.1 * std::pow(x, 5.0));  // with load
  }
}

/// Curves of every family in turn, read to half a percent; some lack a reading.
struct mixed_table {
  std::vector<double> voltage, current, weight, rated;
  std::size_t curves;

  explicit mixed_table(std::size_t count) : curves(count) {
    std::mt19937 random(7);
    std::normal_distribution<double> normal;
    for (std::size_t row = 0; row < count; ++row) {
      rated.push_back(rated_V);
      for (std::size_t i = 0; i < readings_each; ++i) {
        const double x = 0.35 + 0.08 * static_cast<double>(i);
        voltage.push_back(rated_V * x);
        current.push_back(amperes(row % 4, x) * std::exp(0.005 * normal(random)));
        weight.push_back(1.0 / std::pow(0.005 * current.back(), 2));
      }
      if (row % 7 == 3) current[row * readings_each + row % readings_each] = std::numeric_limits<double>::quiet_NaN();
    }
  }

  fit::curve_table view(bool weighted) const {
    return {curves, readings_each, voltage.data(), current.data(), weighted ? weight.data() : nullptr, rated.data()};
  }

  fit::curve_readings of_row(std::size_t row, bool weighted) const { return testing::row_alone(view(weighted), row); }
};

}  // namespace

TEST_CASE("a table chooses each curve's family as the curve alone does, on every width of register and any threads") {
  const mixed_table table(48);
  for (const bool weighted : {true, false}) {
    std::set<fit::curve_family> kinds;
    for (const auto set : fit::instruction_sets())
      for (const int threads : {1, 2}) {
        const auto found = fit::fit_curves(table.view(weighted), {.threads = threads, .set = set});
        for (std::size_t row = 0; row < table.curves; ++row) {
          const auto in = table.of_row(row, weighted);
          CAPTURE(row);
          CHECK(found.family_of(row) == fit::choose_family(in));
          kinds.insert(found.family_of(row));
          const auto alone = fit::fit_curve(in, found.family_of(row), false);
          REQUIRE(alone.usable());
          CHECK(near_relative(found.curve(row).chi2, alone.chi2, 1e-7));
        }
      }
    // A choice that names one family for all would pass above.
    CHECK(kinds.size() >= 3);
  }
}

TEST_CASE("curves with load are fitted in a table as alone, weights or errors stated") {
  const mixed_table table(24);
  for (const bool weighted : {true, false})
    for (const auto set : fit::instruction_sets()) {
      const auto found =
          fit::fit_curves(table.view(weighted), {.family = fit::curve_family::magnetising_load, .set = set});
      std::size_t loaded = 0;
      for (std::size_t row = 3; row < table.curves; row += 4) {
        const auto alone = fit::fit_curve(table.of_row(row, weighted), fit::curve_family::magnetising_load, false);
        const auto here = found.curve(row);
        if (!alone.usable()) continue;
        CAPTURE(row);
        REQUIRE(here.usable());
        CHECK(near_relative(here.chi2, alone.chi2, 1e-7));
        for (Eigen::Index i = 0; i < here.parameters.size(); ++i)
          CHECK(near_relative(here.parameters[i], alone.parameters[i], 1e-4));
        ++loaded;
      }
      CHECK(loaded >= 4);
    }
}

TEST_CASE("profiles of closely read curves end about two standard uncertainties to either side") {
  const mixed_table table(4);
  using enum fit::curve_family;
  for (const bool weighted : {true, false})
    for (const auto family : {power, log_quadratic, magnetising}) {
      const fit::table_options options{.family = family, .absolute = true};
      const auto found = fit::fit_curves(table.view(weighted), options);
      const auto ends = fit::profiles(found, table.view(weighted), options, 0.95);
      const auto row = static_cast<std::size_t>(family == power ? 0 : family == log_quadratic ? 1 : 2);
      for (std::size_t p = 0; p < found.width; ++p) {
        const auto at = row * found.width + p;
        const double best = found.parameters[at];
        const double deviation = std::sqrt(found.covariance[(row * found.width + p) * found.width + p]);
        // These curves are read so closely that the profile is nearly a parabola: 1.96 standard uncertainties each way.
        CAPTURE(p);
        CHECK((ends.high[at] - best) / deviation > 1.7);
        CHECK((ends.high[at] - best) / deviation < 2.4);
        CHECK((best - ends.low[at]) / deviation > 1.6);
        CHECK((best - ends.low[at]) / deviation < 2.3);
      }
    }
}
