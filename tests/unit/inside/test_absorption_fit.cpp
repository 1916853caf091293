// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <cmath>
#include <limits>
#include <vector>

#include <Eigen/LU>

#include <near.hpp>
#include <rewound/checks/absorption.hpp>
#include <rewound/checks/detail/whitened.hpp>
#include <rewound/checks/heat_run.hpp>

// What an absorption fit says of its own numbers, against the straight formulas; mixtures of normal distributions.
namespace checks = rewound::checks;
namespace detail = rewound::checks::detail;
namespace units = rewound::units;
using checks::absorption_status;
using rewound::testing::near_absolute;
using rewound::testing::near_relative;

namespace {

/// Readings of a curve in microamperes, each off by a share.
checks::absorption_input readings(double leakage, double absorption, double exponent, const std::vector<double>& off,
                                  double u = 0.01) {
  checks::absorption_input in{{}, units::volts(500.0)};
  double minutes = 0.25;
  for (const double each : off) {
    const double current = (leakage + absorption * std::pow(minutes, -exponent)) * (1.0 + each);
    in.readings.push_back({units::seconds(60.0 * minutes), units::megohms(500.0 / current), u});
    minutes *= 2.0;
  }
  return in;
}

double chi2_about_mean(const checks::absorption_input& in) {
  double weights = 0.0, sum = 0.0, out = 0.0;
  const auto current = [](const auto& r) { return 500.0 / (1e-6 * units::in_ohms(r.resistance)); };
  for (const auto& r : in.readings) {
    const double w = std::pow(current(r) * r.relative_uncertainty, -2);
    weights += w, sum += w * current(r);
  }
  for (const auto& r : in.readings)
    out += std::pow((current(r) - sum / weights) / (current(r) * r.relative_uncertainty), 2);
  return out;
}

}  // namespace

TEST_CASE("a fit's covariance is that of its slopes, its scale that of its scatter") {
  for (const double leakage : {1.0, 0.0}) {
    auto in = readings(leakage, 2.0, 0.7, {0.02, -0.025, 0.03, -0.02, 0.025, -0.03});
    if (leakage == 0.0) in = readings(-0.05, 2.0, 0.7, {0.002, -0.0025, 0.003, -0.002, 0.0025, -0.003});
    const auto fit = checks::absorption(in);
    REQUIRE(fit.status == (leakage > 0.0 ? absorption_status::fitted : absorption_status::no_leakage));
    CHECK(fit.degrees_of_freedom == 3);
    CHECK(near_relative(fit.scale, std::sqrt(std::max(1.0, (4.0 + fit.chi2) / 7.0)), 1e-9));
    if (leakage > 0.0) CHECK(fit.scale > 1.1);
    const Eigen::Index first = leakage > 0.0 ? 0 : 1;
    Eigen::MatrixXd slopes(6, 3);
    for (Eigen::Index i = 0; i < 6; ++i) {
      const auto& r = in.readings[static_cast<std::size_t>(i)];
      const double minutes = units::in_seconds(r.time) / 60.0;
      const double u = in.test_voltage.value() / r.resistance.value() * r.relative_uncertainty;
      const double decay = std::pow(minutes, -fit.exponent);
      slopes.row(i) << 1.0 / u, decay / u, -units::in_amperes(fit.absorption) * decay * std::log(minutes) / u;
    }
    // In microamperes: the normal equations' numbers would lie too far apart in amperes.
    Eigen::MatrixXd scaled = slopes.rightCols(3 - first);
    scaled.leftCols(2 - first) *= 1e-6;
    const Eigen::MatrixXd covariance = fit.scale * fit.scale * (scaled.transpose() * scaled).inverse();
    for (Eigen::Index i = first; i < 3; ++i)
      for (Eigen::Index j = first; j < 3; ++j) {
        const double unit = (i < 2 ? 1e-6 : 1.0) * (j < 2 ? 1e-6 : 1.0);
        CHECK(near_relative(fit.covariance(i, j), unit * covariance(i - first, j - first), 1e-3));
      }
    if (first == 1)
      for (Eigen::Index i = 0; i < 3; ++i) CHECK(std::isnan(fit.covariance(0, i)));
  }
  auto in = readings(1.0, 2.0, 0.7, {0.02, -0.025, 0.03, -0.02, 0.025, -0.03});
  in.absolute = true;
  CHECK(checks::absorption(in).scale == 1.0);
}

TEST_CASE("absorption is told where it explains 5.99 of chi-squared more than a constant current, scatter counted") {
  int with = 0, without = 0;
  for (double absorption = 0.0; absorption < 0.3; absorption += 0.002) {
    const auto in = readings(1.0, absorption, 0.7, {0.02, -0.025, 0.03, -0.02, 0.025, -0.03}, 0.02);
    const auto fit = checks::absorption(in);
    detail::decays by(detail::points_of(in));
    const auto [best, split] = detail::best_split(detail::points_of(in), by);
    const bool told = split.absorption > 0.0 && chi2_about_mean(in) - best.chi2 >= 5.99 * fit.scale * fit.scale;
    CHECK((fit.status != absorption_status::no_absorption) == told);
    (told ? with : without) += 1;
    if (!told) {
      CHECK(units::in_amperes(fit.absorption) == 0.0);
      CHECK(near_relative(1e6 * units::in_amperes(fit.leakage),
                          detail::constant_current(detail::points_of(in)).leakage * 500.0 /
                              (1e-6 * units::in_ohms(in.readings.back().resistance)),
                          1e-9));
      CHECK(near_relative(detail::constant_current(detail::points_of(in)).chi2, chi2_about_mean(in), 1e-9));
    }
  }
  CHECK(with > 10);
  CHECK(without > 10);
}

TEST_CASE("an exponent at either end of its range is told as such, and one just inside is fitted") {
  const std::vector<double> exact(6, 0.0);
  CHECK(checks::absorption(readings(0.0, 2.0, 2.3, exact)).status == absorption_status::exponent_at_bound);
  CHECK(near_relative(checks::absorption(readings(0.0, 2.0, 2.3, exact)).exponent, 2.0, 1e-4));
  CHECK(checks::absorption(readings(0.0, 2.0, 0.05, exact)).status == absorption_status::exponent_at_bound);
  CHECK(checks::absorption(readings(0.5, 2.0, 1.95, exact)).status == absorption_status::fitted);
  CHECK(checks::absorption(readings(0.5, 2.0, 0.15, exact, 1e-4)).status == absorption_status::fitted);
}

TEST_CASE("an alternative's density with all its scatter is the normal one of the whole covariance") {
  const Eigen::Matrix2d map = (Eigen::Matrix2d() << 1.2, 0.3, -0.4, 0.8).finished();
  checks::alternative in{0, 1.0, Eigen::Vector2d(0.5, -1.0)};
  const Eigen::Vector2d point(1.0, 0.7);
  const auto expected = [&](const Eigen::Matrix2d& covariance) {
    const Eigen::Vector2d away = point - map * in.mean;
    return -0.5 * away.dot(covariance.inverse() * away) - 0.5 * std::log(covariance.determinant());
  };
  CHECK(near_absolute(detail::log_density_of(in, map, point, 0.0), expected(Eigen::Matrix2d::Identity()), 1e-9));
  in.scatter = (Eigen::Matrix2d() << 0.9, 0.2, -0.5, 1.1).finished();
  const Eigen::Matrix2d strays = map * in.scatter;
  CHECK(near_absolute(detail::log_density_of(in, map, point, 0.0),
                      expected(Eigen::Matrix2d::Identity() + strays * strays.transpose()), 1e-9));
}

TEST_CASE("densities of many points are those of each alone, however many fill the last block") {
  std::vector<checks::alternative> list;
  for (int i = 0; i < 5; ++i) list.push_back({0, 1.0 + i, Eigen::Vector2d(0.5 * i, 1.0 - 0.3 * i)});
  const checks::alternative_list of(list);
  const detail::whitened all(of, Eigen::Matrix2d::Identity(), 0.25);
  for (const Eigen::Index count : {1, 3, 4, 7, 8, 9, 16, 17, 33}) {
    Eigen::MatrixXd points(2, count);
    for (Eigen::Index i = 0; i < count; ++i) points.col(i) << 0.1 * static_cast<double>(i), 1.0;
    const auto found = all.log_density(points);
    REQUIRE(found.size() == static_cast<std::size_t>(count));
    for (Eigen::Index i = 0; i < count; ++i) {
      double sum = 0.0;
      for (const auto& each : list) {
        const double square = (points.col(i) - each.mean).squaredNorm();
        sum += each.weight / 15.0 * std::exp(detail::log_kernel(square, 2.0, 0.25));
      }
      CHECK(near_absolute(found[static_cast<std::size_t>(i)], std::log(sum), 1e-9));
    }
  }
}

TEST_CASE("quantiles of a mixture are where its probability is, on both sides and with a further uncertainty") {
  const checks::heat_mixture one{{{40.0, 2.0, 1.0}}};
  CHECK(near_absolute(one.quantile(0.025), 40.0 - 1.959964 * 2.0, 1e-5));
  CHECK(near_absolute(one.quantile(0.975), 40.0 + 1.959964 * 2.0, 1e-5));
  CHECK(near_absolute(one.quantile(0.975, 1.5), 40.0 + 1.959964 * 2.5, 1e-5));
  const checks::heat_mixture two{{{60.0, 1.0, 0.25}, {40.0, 2.0, 0.75}}};
  for (const double p : {0.001, 0.3, 0.74, 0.76, 0.999})
    CHECK(near_absolute(two.probability_below(two.quantile(p)), p, 1e-6));
  CHECK(two.quantile(0.001) < 36.0);
}
