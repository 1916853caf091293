// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <cmath>
#include <map>
#include <random>
#include <vector>

#include <near.hpp>
#include <simulation_size.hpp>
#include <rewound/fit/curve_choice.hpp>
#include <rewound/fit/detail/curve_candidates.hpp>
#include <rewound/fit/least_squares.hpp>
#include <rewound/fit/numeric_jacobian.hpp>

// The quick search of one curve beside the general one.
namespace fit = rewound::fit;
namespace search = rewound::fit::detail;
using fit::curve_family;
using rewound::testing::near_relative;
using rewound::testing::simulated;

namespace {

/// Curves as fans, blowers and motors on a bare shaft have them, each read with some scatter, now and then misread.
std::vector<fit::curve_reading> drawn_readings(std::mt19937_64& random) {
  std::normal_distribution<double> normal;
  std::uniform_real_distribution<double> uniform;
  const bool loaded = uniform(random) < 0.6;
  const double a = 0.3, b = 0.3 * uniform(random) * uniform(random), m = 2.0 + 8.0 * uniform(random);
  const double p = loaded ? 0.3 * uniform(random) : 0.02 * uniform(random), g = 0.3 * uniform(random);
  const int count = 4 + static_cast<int>(10.0 * uniform(random));
  const double scatter = 0.01 * uniform(random), u = 0.001 + 0.004 * uniform(random);
  std::vector<fit::curve_reading> out;
  for (int i = 0; i < count; ++i) {
    const double x = 0.35 + 0.8 * i / (count - 1);
    double current = std::hypot(a * x + b * std::pow(x, m), p / x + g * x) * (1.0 + scatter * normal(random));
    if (uniform(random) < 0.01) current *= 1.2;
    out.push_back({x, current, 0.4 * u, u});
  }
  return out;
}

fit::least_squares_result slowly(curve_family family, const std::vector<fit::curve_reading>& readings) {
  const auto rows = search::plain_readings_of(readings);
  const search::family_problem problem(family, rows);
  return fit::fit_least_squares([&](const Eigen::VectorXd& p) { return problem.residuals(p); },
                                [&](const Eigen::VectorXd& p) { return problem.jacobian(p); },
                                search::vector_of(family, search::free_start(family, readings)));
}

}  // namespace

TEST_CASE("gradients of the residuals by the free parameters are those of differences") {
  std::mt19937_64 random(1);
  for (const auto family : fit::families_by_simplicity)
    for (int i = 0; i < 20; ++i) {
      const auto readings = drawn_readings(random);
      const auto rows = search::plain_readings_of(readings);
      const search::family_problem problem(family, rows);
      const Eigen::VectorXd at = search::vector_of(family, search::free_start(family, readings));
      const Eigen::MatrixXd exact = problem.jacobian(at);
      const Eigen::MatrixXd by_differences =
          fit::numeric_jacobian([&](const Eigen::VectorXd& p) { return problem.residuals(p); }, at);
      for (Eigen::Index j = 0; j < exact.cols(); ++j)
        CHECK((exact.col(j) - by_differences.col(j)).norm() <= 1e-6 * by_differences.col(j).norm() + 1e-6);
    }
}

TEST_CASE("the quick search ends where the general one does, and gives up only what has no minimum inside") {
  std::mt19937_64 random(20261);
  int compared = 0, higher = 0, lower = 0, lost = 0;
  std::map<curve_family, int> arrived, run_off;
  for (int i = 0; i < simulated(4000); ++i) {
    const auto readings = drawn_readings(random);
    for (const auto family : fit::families_by_simplicity) {
      if (!search::carries(readings.size(), readings.size(), family)) continue;
      const auto rows = search::plain_readings_of(readings);
      auto free = search::free_start(family, readings);
      search::curve_descent quick(family, rows);
      const auto end = quick.run(free);
      if (end == search::descent_end::unsettled) continue;
      const auto found = slowly(family, readings);
      ++compared;
      ++(end == search::descent_end::arrived ? arrived : run_off)[family];
      if (!found.usable()) continue;
      if (end == search::descent_end::run_off) {
        lost += found.chi2 < quick.chi2();
        continue;
      }
      higher += quick.chi2() > found.chi2 * (1.0 + 1e-8) + 1e-12;
      lower += quick.chi2() < found.chi2 * (1.0 - 1e-8) - 1e-12;
    }
  }
  MESSAGE(compared << " compared, " << higher << " higher, " << lower << " lower, " << lost << " lost");
  // Of two minima each search may end in either.
  CHECK(higher <= 0.005 * compared + 1.0);
  CHECK(lost <= 0.001 * compared + 1.0);
  for (const auto family : fit::families_by_simplicity) CHECK(arrived[family] > 0);
  CHECK(run_off[curve_family::magnetising] > 0);
  CHECK(run_off[curve_family::magnetising_load] > 0);
}

TEST_CASE("the curve chosen is the one chosen among all families, each searched the general way") {
  std::mt19937_64 random(20262);
  std::map<curve_family, int> chosen;
  int compared = 0, another = 0;
  for (int i = 0; i < simulated(4000); ++i) {
    const auto readings = drawn_readings(random);
    std::vector<fit::current_curve> all;
    for (const auto family : fit::families_by_simplicity) {
      if (!search::carries(readings.size(), readings.size(), family)) continue;
      const auto curve = slowly(family, readings);
      if (curve.usable())
        all.push_back({family, {}, {}, curve.chi2, static_cast<int>(curve.degrees_of_freedom), 1.0, 0.0, 0.0});
    }
    const auto found = fit::fit_current_curve(readings);
    REQUIRE(found.has_value());
    if (all.empty()) continue;
    ++compared;
    another += found->family != search::chosen_of(all, readings.size(), search::scatter_of(all)).family;
    ++chosen[found->family];
  }
  MESSAGE(compared << " compared, " << another << " of another family");
  // Where a family has two minima.
  CHECK(another <= 0.005 * compared + 1.0);
  for (const auto family : fit::families_by_simplicity) CHECK(chosen[family] > 0);
}
