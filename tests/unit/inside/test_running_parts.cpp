// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <cmath>
#include <vector>

#include <Eigen/LU>

#include <near.hpp>
#include <rewound/checks/coast_down.hpp>
#include <rewound/checks/cooling.hpp>
#include <rewound/checks/next_measurement.hpp>

// Running down and cooling carried back, each number against its formula; what the next measurement would tell.
namespace checks = rewound::checks;
namespace detail = rewound::checks::detail;
namespace units = rewound::units;
using Eigen::MatrixXd;
using Eigen::VectorXd;
using rewound::testing::near_absolute;
using rewound::testing::near_relative;

namespace {

checks::coast_down_input coasting(const std::vector<double>& off) {
  checks::coast_down_input in;
  const checks::friction_terms friction{3.0, 0.02, 0.0004};
  for (std::size_t i = 0; i < off.size(); ++i) {
    const double t = 1.5 * static_cast<double>(i);
    in.readings.push_back({units::seconds(2.0 + t),
                           units::angular_velocity::from_value(checks::coasting_speed(150.0, friction, t) + off[i])});
  }
  in.digit_uncertainty = units::angular_velocity::from_value(0.5);
  in.time_uncertainty = units::seconds(0.1);
  return in;
}

checks::cooling_input cooling_from(const std::vector<double>& ohms, double u = 0.01) {
  checks::cooling_input in{{}, units::ohms(20.0), units::ohms(u)};
  for (std::size_t i = 0; i < ohms.size(); ++i)
    in.readings.push_back({units::seconds(20.0 + 30.0 * static_cast<double>(i)), units::ohms(ohms[i])});
  return in;
}

}  // namespace

TEST_CASE("coasting readings are taken over their first speed and span, an error of time by the slope beside it") {
  const auto in = coasting({0.0, 0.0, 0.0, 0.0, 0.0});
  const auto points = detail::points_of(in);
  REQUIRE(points.times.size() == 5);
  CHECK(near_relative(points.unit_time, 6.0, 1e-12));
  CHECK(near_relative(points.unit_speed, 150.0, 1e-12));
  for (Eigen::Index i = 0; i < 5; ++i) {
    const auto speed = [&](Eigen::Index at) { return in.readings[static_cast<std::size_t>(at)].speed.value(); };
    CHECK(near_absolute(points.times[i], static_cast<double>(i) / 4.0, 1e-12));
    CHECK(near_relative(points.speeds[i], speed(i) / 150.0, 1e-12));
    const Eigen::Index before = i == 0 ? 0 : i - 1, after = i == 4 ? 4 : i + 1;
    const double slope = (speed(after) - speed(before)) / (1.5 * static_cast<double>(after - before));
    CHECK(near_relative(points.uncertainties[i], std::hypot(0.5, 0.1 * slope) / 150.0, 1e-9));
  }
}

TEST_CASE("a rotor slows where its slope lies below nothing by more than three standard uncertainties") {
  const auto slowing = [](double fall) {
    detail::coast_points points{VectorXd::LinSpaced(3, 0.0, 2.0), VectorXd(3), VectorXd::Constant(3, 1.0)};
    points.speeds << 20.0 + fall, 20.0, 20.0 - fall;
    return detail::slows(points);
  };
  CHECK(slowing(3.01 / std::sqrt(2.0)));
  CHECK_FALSE(slowing(2.99 / std::sqrt(2.0)));
  CHECK_FALSE(slowing(-3.01 / std::sqrt(2.0)));
}

TEST_CASE("a coast-down's scale and covariance are those of its scatter and its slopes") {
  const auto in = coasting({0.9, -1.1, 1.0, -0.8, 1.1, -0.9, 0.8, -0.7});
  const auto found = checks::coast_down(in);
  REQUIRE(found.status == checks::coast_down_status::fitted);
  const int free = found.fitted[0] + found.fitted[1] + found.fitted[2];
  CHECK(near_relative(found.scale, std::sqrt(std::max(1.0, (4.0 + found.chi2) / (4.0 + 7.0 - free))), 1e-9));
  CHECK(found.scale > 1.05);
  const auto points = detail::points_of(in);
  // Differences of the curve in all four numbers, in SI units.
  MatrixXd slopes(8, 4);
  const double p[4] = {found.initial, found.terms.constant, found.terms.linear, found.terms.quadratic};
  for (Eigen::Index i = 0; i < 8; ++i) {
    const double t = points.times[i] * points.unit_time, u = points.uncertainties[i] * points.unit_speed;
    for (Eigen::Index k = 0; k < 4; ++k) {
      const double step[4] = {1e-3, 1e-4, 1e-6, 1e-8};
      double more[4], less[4];
      for (int j = 0; j < 4; ++j) more[j] = less[j] = p[j];
      more[k] += step[k], less[k] -= step[k];
      slopes(i, k) = (checks::coasting_speed(more[0], {more[1], more[2], more[3]}, t) -
                      checks::coasting_speed(less[0], {less[1], less[2], less[3]}, t)) /
                     (2.0 * step[k] * u);
    }
  }
  const VectorXd by = (VectorXd(4) << 150.0, 3.0, 0.02, 4e-4).finished();
  const MatrixXd scaled = slopes * by.asDiagonal();
  const MatrixXd covariance = by.asDiagonal() * MatrixXd((scaled.transpose() * scaled).inverse()) * by.asDiagonal();
  for (Eigen::Index i = 0; i < 3; ++i)
    for (Eigen::Index j = 0; j < 3; ++j)
      CHECK(near_relative(found.covariance(i, j), found.scale * found.scale * covariance(i + 1, j + 1), 0.02));
  const double w = found.compare_at;
  const double parts[3] = {found.terms.constant, found.terms.linear * w, found.terms.quadratic * w * w};
  for (std::size_t k = 0; k < 3; ++k) CHECK(near_absolute(found.parts[k].value, parts[k], 1e-9));
  CHECK(near_relative(found.deceleration.value, parts[0] + parts[1] + parts[2], 1e-9));
  auto absolute = in;
  absolute.absolute = true;
  CHECK(checks::coast_down(absolute).scale == 1.0);
}

TEST_CASE("three readings in motion are needed, and a curve past its run-off is no number") {
  auto in = coasting({0.0, 0.0, 0.0});
  CHECK(checks::coast_down(in).status != checks::coast_down_status::too_few_readings);
  in.readings.back().speed = units::angular_velocity::from_value(0.0);
  CHECK(checks::coast_down(in).status == checks::coast_down_status::too_few_readings);
  // 4 c0 c2 = 0.04: tan(0.1 t) runs off at 0.1 t = pi / 2.
  CHECK(std::isfinite(checks::coasting_speed(10.0, {1.0, 0.0, 0.01}, 15.70)));
  CHECK(std::isnan(checks::coasting_speed(10.0, {1.0, 0.0, 0.01}, 15.71)));
  CHECK(std::isfinite(checks::coasting_speed(10.0, {0.01, 1.0, 0.01}, 16.0)));
}

TEST_CASE("cooling is carried back on the straight line of the logarithm, widened by its scatter") {
  std::vector<double> ohms;
  const double off[] = {0.03, -0.04, 0.035, -0.03, 0.025};
  for (int i = 0; i < 5; ++i) ohms.push_back(20.0 + 8.0 * std::exp(-(20.0 + 30.0 * i) / 300.0) + off[i]);
  const auto found = checks::cooling(cooling_from(ohms));
  REQUIRE(found.status == checks::cooling_status::extrapolated);
  MatrixXd normal = MatrixXd::Zero(2, 2);
  VectorXd right = VectorXd::Zero(2);
  for (int i = 0; i < 5; ++i) {
    const double excess = ohms[static_cast<std::size_t>(i)] - 20.0, weight = std::pow(excess / 0.01, 2);
    const VectorXd row = (VectorXd(2) << 1.0, 20.0 + 30.0 * i).finished();
    normal += weight * row * row.transpose();
    right += weight * row * std::log(excess);
  }
  const MatrixXd covariance = normal.inverse();
  const VectorXd best = covariance * right;
  double chi2 = 0.0;
  for (int i = 0; i < 5; ++i) {
    const double excess = ohms[static_cast<std::size_t>(i)] - 20.0;
    chi2 += std::pow((std::log(excess) - best[0] - best[1] * (20.0 + 30.0 * i)) * excess / 0.01, 2);
  }
  const double excess = std::exp(best[0]);
  const double widened = std::max(1.0, (4.0 + chi2) / (4.0 + 3.0));
  CHECK(widened > 1.5);
  CHECK(near_relative(units::in_ohms(found.at_switch_off.value), 20.0 + excess, 1e-9));
  CHECK(near_relative(units::in_ohms(found.at_switch_off.standard_uncertainty),
                      excess * std::sqrt(covariance(0, 0) * widened), 1e-6));
  CHECK(near_relative(units::in_seconds(found.time_constant), -1.0 / best[1], 1e-9));
}

TEST_CASE("a resistance that still rises by three uncertainties of a difference stands as its highest") {
  const double limit = 3.0 * std::sqrt(2.0) * 0.01;
  const auto status = [](double rise) { return checks::cooling(cooling_from({25.0, 25.0 + rise, 24.0, 23.2})).status; };
  CHECK(status(limit * 1.01) == checks::cooling_status::highest_taken);
  CHECK(status(limit * 0.99) == checks::cooling_status::extrapolated);
}

TEST_CASE("readings within two digits of the air's value say nothing of the cooling") {
  CHECK(checks::cooling(cooling_from({20.019})).status == checks::cooling_status::not_cooling);
  CHECK(checks::cooling(cooling_from({20.021})).status == checks::cooling_status::first_taken);
  CHECK(checks::cooling(cooling_from({19.979})).status == checks::cooling_status::not_cooling);
}

TEST_CASE("ways a machine may be are weighed by prior, share and density, each from its points, the least left out") {
  checks::next_measurement_input in;
  in.model.covariance = MatrixXd::Identity(1, 1);
  in.model.healthy = {{0, 1.0, VectorXd::Zero(1)}};
  in.model.causes = 3;
  checks::alternative strays{1, 2.0, VectorXd::Constant(1, 2.0), 0, MatrixXd::Constant(1, 1, 0.8)};
  in.model.faulty = {strays, {1, 1.0, VectorXd::Constant(1, 1.0)}, {2, 1.0, VectorXd::Constant(1, 40.0)}};
  in.log_prior = {std::log(0.7), std::log(0.2), std::log(0.1)};
  in.healthy_cause = 0;
  in.observed = {MatrixXd::Identity(1, 1), VectorXd::Constant(1, 0.9), MatrixXd::Constant(1, 1, 0.25)};
  const rewound::fit::cholesky_factor seen(MatrixXd::Constant(1, 1, 1.25));
  const auto found = detail::after_observing(in, seen);
  const auto normal = [](double away, double variance) {
    return std::exp(-0.5 * away * away / variance) / std::sqrt(variance);
  };
  // In units of the observed spread; the fault of scatter is weighed with it and shared among three points.
  const double scatter = 1.25 + 0.64, healthy = 0.7 * normal(0.9, 1.25), plain = 0.2 / 3.0 * normal(0.1, 1.25);
  const double wide = 0.2 * 2.0 / 3.0 * normal(1.1, scatter);
  const double sum = healthy + plain + wide;
  double points[3], of_points = 0.0;
  for (int i = 0; i < 3; ++i) {
    const double mean = 2.0 + (i == 1 ? 1.0 : i == 2 ? -1.0 : 0.0) * std::sqrt(3.0) * 0.8;
    points[i] = (i == 0 ? 4.0 : 1.0) * normal(0.9 - mean, 1.25);
    of_points += points[i];
  }
  REQUIRE(found.probability.size() == 5);  // 40 is negligible
  CHECK(near_relative(found.probability[0], healthy / sum, 1e-9));
  for (std::size_t i = 0; i < 3; ++i)
    CHECK(near_relative(found.probability[1 + i], wide / sum * points[i] / of_points, 1e-9));
  CHECK(near_relative(found.probability[4], plain / sum, 1e-9));
  CHECK(found.cause == std::vector<std::size_t>{0, 1, 1, 1, 1});
  // What a second reading of the same would give: the observed part of each deviation carried over.
  const checks::proposed_measurement next{MatrixXd::Identity(1, 1), MatrixXd::Constant(1, 1, 0.25), {0}};
  const auto cast = detail::forecast_of(in, next, found, seen);
  for (std::size_t i = 0; i < 5; ++i) {
    const double mean = found.mean[i][0];
    CHECK(near_relative(cast.means(0, static_cast<Eigen::Index>(i)), mean + (0.9 - mean) / 1.25, 1e-9));
  }
  const MatrixXd root = cast.factor.lower();
  CHECK(near_relative(root(0, 0) * root(0, 0), 1.0 + 0.25 - 1.0 / 1.25, 1e-9));
  double of_healthy = cast.means(0, 0);
  CHECK(near_relative(detail::healthy_sum(cast, found, VectorXd::Ones(1), 0), of_healthy, 1e-12));
  double weighed = 0.0, weight = 0.0;
  for (Eigen::Index i = 1; i < 5; ++i) {
    weighed += found.probability[static_cast<std::size_t>(i)] * cast.means(0, i);
    weight += found.probability[static_cast<std::size_t>(i)];
  }
  CHECK(near_relative(detail::healthy_sum(cast, found, VectorXd::Ones(1), 1), weighed / weight, 1e-9));
  CHECK(detail::healthy_sum(cast, found, VectorXd::Ones(1), 2) == 0.0);
}
