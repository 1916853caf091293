// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <cmath>
#include <vector>

#include <Eigen/LU>

#include <near.hpp>
#include <rewound/checks/fault_likelihood.hpp>
#include <rewound/checks/no_load.hpp>

// Friction apart from core loss, and how rarely a healthy machine looks as faulty, each against its formula.
namespace checks = rewound::checks;
namespace detail = rewound::checks::detail;
namespace units = rewound::units;
using Eigen::MatrixXd;
using Eigen::VectorXd;
using rewound::testing::near_absolute;
using rewound::testing::near_relative;

namespace {

/// Friction 12 W, core loss 30 W at the rated voltage, windings of 5 ohm; each power off by so much.
checks::no_load_input readings(const std::vector<double>& off) {
  checks::no_load_input in;
  in.rated_voltage = units::volts(230.0);
  in.loss_resistance = units::ohms(5.0);
  in.loss_uncertainty = 0.05;
  in.power_gain_uncertainty = 0.01;
  in.exponent_low = 1.8;
  in.exponent_high = 2.2;
  const double ratios[] = {0.35, 0.45, 0.55, 0.65, 0.75, 1.0};
  for (std::size_t i = 0; i < off.size(); ++i) {
    const double x = ratios[i], amperes = 0.2 + 0.5 * x;
    in.readings.push_back({units::volts(230.0 * x), units::amperes(amperes),
                           units::watts(12.0 + 30.0 * x * x + 5.0 * amperes * amperes + off[i]), units::volts(0.6),
                           units::amperes(0.01), units::watts(0.15)});
  }
  return in;
}

struct line {
  double intercept, slope, variance, chi2;
};

/// Weighted straight line of `y` over ratio^exponent, by plain inverses.
line through(const checks::no_load_input& in, const std::vector<double>& y, double exponent,
             const std::vector<double>& variances) {
  MatrixXd normal = MatrixXd::Zero(2, 2);
  VectorXd right = VectorXd::Zero(2);
  for (std::size_t i = 0; i < y.size(); ++i) {
    const double x = std::pow(units::in_volts(in.readings[i].voltage) / 230.0, exponent);
    const VectorXd row = (VectorXd(2) << 1.0, x).finished();
    normal += row * row.transpose() / variances[i];
    right += row * y[i] / variances[i];
  }
  const MatrixXd covariance = normal.inverse();
  const VectorXd best = covariance * right;
  double chi2 = 0.0;
  for (std::size_t i = 0; i < y.size(); ++i) {
    const double x = std::pow(units::in_volts(in.readings[i].voltage) / 230.0, exponent);
    chi2 += std::pow(y[i] - best[0] - best[1] * x, 2) / variances[i];
  }
  return {best[0], best[1], covariance(0, 0), chi2};
}

}  // namespace

TEST_CASE("friction is the intercept of power without copper heat, with meters, scatter and exponent in its width") {
  const auto in = readings({0.5, -0.6, 0.55, -0.5, 0.4, 0.3});
  const auto found = checks::no_load(in);
  REQUIRE(found.status == checks::no_load_status::separated);
  CHECK(found.used == 5);  // up to 0.8 of the rated voltage
  std::vector<double> power, loss, both, plain, full;
  const auto variance = [](const checks::no_load_reading& r, double slope) {
    const double by_current = 2.0 * units::in_amperes(r.current) * 5.0 * 0.01;
    const double by_voltage = 2.0 * slope * units::in_volts(r.voltage) * 0.6 / (230.0 * 230.0);
    return 0.15 * 0.15 + by_current * by_current + by_voltage * by_voltage;
  };
  for (std::size_t i = 0; i < 5; ++i) {
    const auto& r = in.readings[i];
    power.push_back(units::in_watts(r.power));
    loss.push_back(5.0 * std::pow(units::in_amperes(r.current), 2));
    both.push_back(power.back() - loss.back());
    plain.push_back(variance(r, 0.0));
  }
  const double slope = through(in, both, 2.0, plain).slope;
  for (std::size_t i = 0; i < 5; ++i) full.push_back(variance(in.readings[i], slope));
  const auto fitted = through(in, both, 2.0, full);
  const double of_power = through(in, power, 2.0, full).intercept, of_loss = through(in, loss, 2.0, full).intercept;
  const double widening = std::max(1.0, (4.0 + fitted.chi2) / (4.0 + 3.0));
  CHECK(widening > 1.5);
  const double by_exponent = 0.5 * (through(in, both, 2.2, full).intercept - through(in, both, 1.8, full).intercept);
  const double own = widening * fitted.variance + by_exponent * by_exponent / 3.0;
  const double u = std::sqrt(own + std::pow(0.01 * of_power, 2) + std::pow(0.05 * of_loss, 2));
  CHECK(near_relative(units::in_watts(found.friction_and_windage.value), of_power - of_loss, 1e-6));
  CHECK(near_relative(units::in_watts(found.friction_and_windage.standard_uncertainty), u, 1e-6));
  // Core loss at the reading nearest to the rated voltage: what lies above friction there.
  REQUIRE(found.core.has_value());
  const auto& rated = in.readings[5];
  const double copper = 5.0 * std::pow(units::in_amperes(rated.current), 2);
  const double core = units::in_watts(rated.power) - copper - (of_power - of_loss);
  const double core_u =
      std::sqrt(own + variance(rated, core) + std::pow(0.01 * (units::in_watts(rated.power) - of_power), 2) +
                std::pow(0.05 * (copper - of_loss), 2));
  CHECK(near_relative(units::in_watts(found.core->value), core, 1e-6));
  CHECK(near_relative(units::in_watts(found.core->standard_uncertainty), core_u, 1e-6));
}

TEST_CASE("readings leave the top of the line while it bends, down to three") {
  auto in = readings({0.0, 0.0, 0.0, 0.0, 6.0});
  CHECK(checks::no_load(in).used == 4);
  in = readings({0.0, 0.0, 0.0, 6.0, 30.0});
  CHECK(checks::no_load(in).used == 3);
  in = readings({0.0, 0.0, 9.0});
  CHECK(checks::no_load(in).used == 3);
  in = readings({0.0, 0.0});
  CHECK(checks::no_load(in).status == checks::no_load_status::too_few);
}

TEST_CASE("between 0 and 1 a blend is smooth and symmetrical, and beyond it is what it goes to") {
  CHECK(detail::blend(0.9, 1.0, 3.0) == 0.0);
  CHECK(detail::blend(1.0, 1.0, 3.0) == 0.0);
  CHECK(near_relative(detail::blend(2.0, 1.0, 3.0), 0.5, 1e-12));
  CHECK(near_relative(detail::blend(1.5, 1.0, 3.0), 0.0625 * 2.5, 1e-12));
  CHECK(near_relative(detail::blend(1.5, 1.0, 3.0) + detail::blend(2.5, 1.0, 3.0), 1.0, 1e-12));
  CHECK(detail::blend(3.1, 1.0, 3.0) == 1.0);
}

TEST_CASE("the share of drawn ratios above one seen counts each as a narrow normal distribution") {
  const std::vector<double> drawn{0.0, 1.0, 1.02, 3.0};
  CHECK(near_absolute(detail::smooth_share(drawn, -1.0), 1.0, 1e-9));
  CHECK(near_absolute(detail::smooth_share(drawn, 2.0), 0.25, 1e-9));
  const auto above = [](double away) { return 0.5 * std::erfc(away / (0.05 * std::sqrt(2.0))); };
  CHECK(near_relative(detail::smooth_share(drawn, 1.0), (above(1.0) + 0.5 + above(-0.02) + above(-2.0)) / 4.0, 1e-9));
}

TEST_CASE("beyond the highest tenth of the drawn ratios the tail falls as they do, and as 1 / ratio at least") {
  std::vector<double> drawn;
  for (int i = 0; i < 100; ++i) drawn.push_back(0.02 * i);
  // The highest ten begin at 1.8 and lie 0.09 above it on the mean.
  const double rate = 1.0 / 0.09;
  for (const double seen : {1.85, 1.89, 1.95, 3.0, 6.0}) {
    const double share = std::min(1.0, (seen - 1.8) / 0.09);
    const double blended = share * share * (3.0 - 2.0 * share);
    const double inside = detail::smooth_share(drawn, seen);
    const double beyond = std::min(std::log(0.1) - rate * (seen - 1.8), -seen);
    const double expected = std::exp((1.0 - blended) * std::log(std::max(inside, 1e-300)) + blended * beyond);
    CHECK(near_relative(detail::tail_share(drawn, seen), expected, 1e-9));
  }
  CHECK(near_relative(detail::tail_share(drawn, 1.0), detail::smooth_share(drawn, 1.0), 1e-12));
  CHECK(near_relative(detail::tail_share({1.0}, 0.0), 1.0, 1e-9));
}

TEST_CASE("drawn machines lie about the designs of their share, some as wide as may be") {
  checks::fault_model model;
  model.wider_probability = 0.25;
  model.healthy = {{0, 1.0, Eigen::Vector2d(-50.0, 10.0)}, {0, 3.0, Eigen::Vector2d(50.0, -10.0)}};
  const detail::whitened healthy(model.healthy, Eigen::Matrix2d::Identity(), 0.25);
  detail::healthy_draws random(healthy, 600);
  MatrixXd points(2, 600);
  points << random.next(100), random.next(500);
  double second = 0.0;
  Eigen::Vector2d squares = Eigen::Vector2d::Zero();
  for (Eigen::Index i = 0; i < 600; ++i) {
    const bool is_second = points(0, i) > 0.0;
    second += is_second;
    const Eigen::Vector2d centre = is_second ? Eigen::Vector2d(50.0, -10.0) : Eigen::Vector2d(-50.0, 10.0);
    squares += (points.col(i) - centre).cwiseAbs2();
  }
  CHECK(near_absolute(second / 600.0, 0.75, 0.06));
  // A variance of 0.75 + 0.25 * 1.6^2
  for (const double each : {squares[0], squares[1]}) CHECK(near_relative(each / 600.0, 1.39, 0.15));
  // The numbers are the same every time, in whatever portions they are taken, and of other sizes as well.
  detail::healthy_draws again(healthy, 600);
  CHECK((again.next(600) - points).cwiseAbs().maxCoeff() == 0.0);
  CHECK(detail::kept_numbers(3, 600)->rows() == 5);
  CHECK(detail::kept_numbers(2, 600)->rows() == 4);
  CHECK(detail::kept_numbers(2, 601)->cols() == 601);
  CHECK(detail::kept_numbers(2, 10)->cols() == 600);
}

TEST_CASE("where the first few drawn machines show no rarity the others are not drawn, and between both shares count") {
  checks::fault_likelihood_input in;
  in.model.covariance = MatrixXd::Identity(1, 1);
  in.model.healthy = {{0, 1.0, VectorXd::Zero(1)}};
  in.model.faulty = {{0, 1.0, VectorXd::Constant(1, 3.0)}};
  in.model.causes = 1;
  in.observed = {MatrixXd::Identity(1, 1), VectorXd::Zero(1), 1e-12 * MatrixXd::Identity(1, 1)};
  int quick_only = 0, both = 0, whole_only = 0;
  for (double value = -1.5; value < 2.5; value += 0.02) {
    in.observed.values[0] = value;
    const detail::mixtures all(in);
    const double seen = all.log_ratio(all.whitened_values())[0];
    const auto ratios = [&](std::size_t count) {
      detail::healthy_draws random(all.healthy, 600);
      return all.log_ratio(random.next(count));
    };
    const double quick = detail::smooth_share(ratios(60), seen);
    const double whole = detail::tail_share(ratios(600), seen);
    const double share = std::min(1.0, std::max(0.0, (quick - 0.25) / 0.1));
    const double enough = share * share * (3.0 - 2.0 * share);
    const double expected = enough >= 1.0 ? quick : enough * quick + (1.0 - enough) * whole;
    CHECK(near_relative(detail::healthy_share_above(all, seen, 600, 60), expected, 1e-9));
    (enough >= 1.0 ? quick_only : enough > 0.0 ? both : whole_only) += 1;
    if (enough == 0.0) {
      CHECK(near_relative(detail::healthy_share_above(all, seen, 600, 0), whole, 1e-9));
      CHECK(near_relative(detail::healthy_share_above(all, seen, 600, 600), whole, 1e-9));
    }
  }
  CHECK(quick_only > 10);
  CHECK(both > 3);
  CHECK(whole_only > 10);
}
