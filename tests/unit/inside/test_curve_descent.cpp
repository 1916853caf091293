// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <cmath>
#include <limits>
#include <random>
#include <vector>

#include <near.hpp>
#include <simulation_size.hpp>
#include <rewound/fit/curve_choice.hpp>
#include <rewound/fit/detail/curve_candidates.hpp>
#include <rewound/fit/least_squares.hpp>

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
  int compared = 0, arrived = 0, higher = 0, lower = 0;
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
      arrived += end == search::descent_end::arrived;
      if (!found.usable()) continue;
      higher += quick.chi2() > found.chi2 * (1.0 + 1e-8) + 1e-12;
      lower += quick.chi2() < found.chi2 * (1.0 - 1e-8) - 1e-12;
    }
  }
  MESSAGE(compared << " compared, " << arrived << " arrived, " << higher << " higher, " << lower << " lower");
  // Of two minima each search may end in either.
  CHECK(higher <= 0.01 * compared + 1.0);
  CHECK(arrived > 0.3 * compared);
  CHECK(compared > 2 * simulated(4000));
}

TEST_CASE("the curve chosen is the one chosen among all families, each searched to its end") {
  std::mt19937_64 random(20262);
  std::vector<int> chosen(5, 0);
  for (int i = 0; i < simulated(4000); ++i) {
    const auto readings = drawn_readings(random);
    std::vector<fit::current_curve> all;
    for (const auto family : fit::families_by_simplicity)
      if (search::carries(readings.size(), readings.size(), family))
        if (auto curve = search::fit_family(family, readings, std::numeric_limits<double>::infinity()))
          all.push_back(std::move(*curve));
    const auto found = fit::fit_current_curve(readings);
    REQUIRE(found.has_value());
    if (all.empty()) continue;
    const auto& best = search::chosen_of(all, readings.size(), search::scatter_of(all));
    CHECK(found->family == best.family);
    CHECK(near_relative(found->chi2, best.chi2, 1e-8));
    ++chosen[static_cast<std::size_t>(found->family)];
  }
  CHECK(chosen[static_cast<std::size_t>(curve_family::power)] > 0);
  CHECK(chosen[static_cast<std::size_t>(curve_family::log_quadratic)] > 0);
  CHECK(chosen[static_cast<std::size_t>(curve_family::magnetising)] > 0);
}
