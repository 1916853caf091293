// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <array>
#include <cmath>
#include <vector>

#include <Eigen/Core>
#include <Eigen/LU>

#include <near.hpp>
#include <rewound/base/error.hpp>
#include <rewound/checks/heat_run.hpp>

// The steps of a heat run's projection, each against what it is by definition.
namespace checks = rewound::checks;
namespace detail = rewound::checks::detail;
namespace units = rewound::units;
using Eigen::MatrixXd;
using Eigen::VectorXd;
using rewound::testing::near_absolute;
using rewound::testing::near_relative;

namespace {

detail::heat_fit two_bodies() {
  detail::heat_fit out;
  out.log_slow = std::log(2000.0);
  out.log_fast = std::log(150.0);
  out.share = 0.3;
  out.level = 60.0;
  out.amplitude = 55.0;
  return out;
}

detail::heat_points points_of(const detail::heat_fit& curve, bool absolute = false) {
  constexpr Eigen::Index count = 9;
  detail::heat_points out{VectorXd(count), VectorXd(count), VectorXd(count), absolute};
  for (Eigen::Index i = 0; i < count; ++i) {
    out.times[i] = 200.0 * static_cast<double>(i);
    out.rises[i] = curve.at(out.times[i]) + (i % 3 == 0 ? 0.4 : -0.3);
    out.weights[i] = i < 4 ? 4.0 : 1.0;
  }
  return out;
}

checks::heat_run_input run_of(const std::vector<double>& seconds, const std::vector<double>& kelvins, double u = 0.5) {
  checks::heat_run_input in{.usual_time_constant = units::seconds(1800.0),
                            .time_constant_factor = 2.5,
                            .two_parts_certainty = 9.0,
                            .known_within = units::kelvins(2.0),
                            .steady_within = units::kelvins(1.0),
                            .fast = {units::seconds(30.0), units::seconds(600.0), 0.6}};
  for (std::size_t i = 0; i < seconds.size(); ++i)
    in.readings.push_back({units::seconds(seconds[i]), units::kelvins(kelvins[i]), units::kelvins(u)});
  return in;
}

const detail::heat_prior prior{std::log(1800.0), std::log(2.5), 30.0, 600.0, 0.6};

}  // namespace

TEST_CASE("a curve's slopes are its differences by level, amplitude, both time constants and share") {
  const auto base = two_bodies();
  for (const double time : {0.0, 90.0, 1500.0}) {
    const auto found = base.slopes(time);
    const double left = 0.7 * std::exp(-time / 2000.0) + 0.3 * std::exp(-time / 150.0);
    CHECK(near_relative(base.left(time), left, 1e-12));
    CHECK(near_relative(base.at(time), 60.0 - 55.0 * left, 1e-12));
    const std::array<double detail::heat_fit::*, 5> members{&detail::heat_fit::level, &detail::heat_fit::amplitude,
                                                            &detail::heat_fit::log_slow, &detail::heat_fit::log_fast,
                                                            &detail::heat_fit::share};
    for (std::size_t j = 0; j < members.size(); ++j) {
      auto more = base, less = base;
      const double step = 1e-5;
      more.*members[j] += step, less.*members[j] -= step;
      CHECK(near_absolute(found[j], (more.at(time) - less.at(time)) / (2.0 * step), 1e-6));
    }
  }
  auto one = base;
  one.share = 0.0;
  one.log_fast = -5000.0;  // of no meaning
  CHECK(near_relative(one.left(100.0), std::exp(-0.05), 1e-12));
}

TEST_CASE("level and amplitude at given time constants are the weighted straight line's, with its covariance") {
  auto curve = two_bodies();
  const auto points = points_of(curve);
  const detail::heat_sums sums(points);
  const auto slow = sums.decay(curve.log_slow), fast = sums.decay(curve.log_fast);
  sums.fit(slow, fast, slow.weighed.dot(fast.off), curve);
  MatrixXd line(points.times.size(), 2);
  for (Eigen::Index i = 0; i < line.rows(); ++i) line.row(i) << 1.0, -curve.left(points.times[i]);
  const MatrixXd normal = line.transpose() * points.weights.asDiagonal() * line;
  const MatrixXd covariance = normal.inverse();
  const VectorXd best = covariance * line.transpose() * points.weights.cwiseProduct(points.rises);
  CHECK(near_relative(curve.level, best[0], 1e-9));
  CHECK(near_relative(curve.amplitude, best[1], 1e-9));
  CHECK(near_relative(curve.level_variance, covariance(0, 0), 1e-9));
  CHECK(near_relative(curve.amplitude_variance, covariance(1, 1), 1e-9));
  CHECK(near_relative(curve.mean_left * curve.amplitude_variance, covariance(0, 1), 1e-9));
  const VectorXd off = points.rises - line * best;
  CHECK(near_relative(curve.chi2, off.dot(points.weights.cwiseProduct(off)), 1e-6));
}

TEST_CASE("readings that scatter more than stated widen, the statement counting as four degrees of freedom") {
  auto points = points_of(two_bodies());
  CHECK(near_relative(detail::heat_scale(points, 40.0, 3.0), std::sqrt(44.0 / 10.0), 1e-12));
  CHECK(near_relative(detail::heat_scale(points, 6.01, 3.0), std::sqrt(10.01 / 10.0), 1e-12));
  CHECK(detail::heat_scale(points, 5.99, 3.0) == 1.0);
  CHECK(near_relative(detail::heat_scale(points, 20.0, 12.0), std::sqrt(24.0 / 4.0), 1e-12));
  points.absolute = true;
  CHECK(detail::heat_scale(points, 40.0, 3.0) == 1.0);
}

TEST_CASE("a fast part is at most a quarter of the slow one, and there is none beside one that is itself fast") {
  CHECK(near_relative(prior.lowest(), std::log(1800.0) - 4.0 * std::log(2.5), 1e-12));
  CHECK(near_relative(prior.highest(), std::log(1800.0) + 4.0 * std::log(2.5), 1e-12));
  CHECK(near_relative(detail::fast_range(prior, std::log(4000.0)).second, std::log(600.0), 1e-12));
  CHECK(near_relative(detail::fast_range(prior, std::log(1000.0)).second, std::log(250.0), 1e-12));
  CHECK(near_relative(detail::fast_range(prior, std::log(1000.0)).first, std::log(30.0), 1e-12));
  const auto points = points_of(two_bodies());
  const detail::heat_sums sums(points);
  const detail::heat_box box{{{0.0, 0.0, 0}, {0.0, 1.0, 4}, {0.0, 0.5, 2}}};
  std::vector<detail::heat_fit> fits;
  detail::fast_decays kept;
  detail::fit_beside(sums, prior, box, std::log(121.0), kept, fits);
  REQUIRE(fits.size() == 15);
  CHECK(near_relative(fits[0].log_fast, std::log(30.0), 1e-12));
  CHECK(near_relative(fits[14].log_fast, std::log(121.0 / 4.0), 1e-12));
  CHECK(fits[14].share == 0.5);
  CHECK(fits[1].share == 0.25);
  CHECK(fits[3].place == 0.25);
  fits.clear();
  detail::fit_beside(sums, prior, box, std::log(119.0), kept, fits);
  for (const auto& each : fits) CHECK(each.share == 0.0);
  CHECK(near_relative(fits.at(0).log_fast, std::log(119.0 / 4.0), 1e-12));
}

TEST_CASE("fits are weighed by prior and chi-squared over the scatter, those of next to nothing left out") {
  const auto points = points_of(two_bodies());
  std::vector<detail::heat_fit> fits(4);
  const double chi2[] = {20.0, 24.0, 90.0, 21.0};
  const double slow[] = {1800.0, 1800.0, 1800.0, 900.0};
  for (std::size_t i = 0; i < 4; ++i) fits[i].chi2 = chi2[i], fits[i].log_slow = std::log(slow[i]);
  const auto found = detail::weighed(points, prior, fits, 3.0);
  CHECK(found.best.chi2 == 20.0);
  CHECK(near_relative(found.scale, std::sqrt(24.0 / 10.0), 1e-12));
  REQUIRE(found.fits.size() == 3);  // exp(-35 / 2.4) is below 1e-5
  const double off = std::log(2.0) / std::log(2.5);
  const double second = std::exp(-2.0 / 2.4), third = std::exp(-0.5 / 2.4 - 0.5 * off * off);
  CHECK(near_relative(found.weights[1] / found.weights[0], second, 1e-9));
  CHECK(near_relative(found.weights[2] / found.weights[0], third, 1e-9));
  CHECK(near_relative(found.weights[0] + found.weights[1] + found.weights[2], 1.0, 1e-12));
  CHECK(near_relative(detail::weighed(points, prior, fits, 3.0, 10.0).scale, 10.0 * found.scale, 1e-12));
  CHECK_FALSE(detail::weighed(points, prior, {}, 3.0).usable());
}

TEST_CASE("a box narrows to where the weight lies, one step wider, never beyond what it was") {
  const detail::heat_box box{{{0.0, 10.0, 10}, {0.0, 1.0, 4}, {0.0, 0.6, 0}}};
  detail::heat_grid grid;
  for (const double at : {4.0, 5.0, 6.0}) {
    detail::heat_fit each;
    each.log_slow = at;
    each.place = at < 5.0 ? 0.0 : 0.25;
    each.share = 0.0;
    grid.fits.push_back(each);
  }
  const auto found = detail::narrowed(grid, box);
  CHECK(near_relative(found[0].low, 3.0, 1e-12));
  CHECK(near_relative(found[0].high, 7.0, 1e-12));
  CHECK(found[1].low == 0.0);
  CHECK(near_relative(found[1].high, 0.5, 1e-12));
  CHECK(found[2].low == 0.0);
  CHECK(found[2].high == 0.0);
  CHECK(near_relative(box[0].at(3), 3.0, 1e-12));
  CHECK(box[2].step() == 0.0);
  const auto shrunk = [&](double first, double second) {
    auto now = box;
    now[0].high = first, now[1].high = second;
    return detail::much_smaller(now, box);
  };
  CHECK(shrunk(4.9, 1.0));
  CHECK_FALSE(shrunk(5.1, 1.0));
  CHECK(shrunk(7.0, 0.7));
  CHECK_FALSE(shrunk(8.0, 0.7));
}

TEST_CASE("what is still to come is the amplitude times what is left, and the level is the final rise") {
  detail::heat_grid grid;
  auto each = two_bodies();
  each.level_variance = 4.0, each.amplitude_variance = 9.0, each.mean_left = 0.5;
  grid.fits = {each};
  grid.weights = {1.0};
  grid.scale = 1.5;
  const auto level = detail::mixture_of(grid, 600.0, false).parts.at(0);
  CHECK(near_relative(level.value, 60.0, 1e-12));
  CHECK(near_relative(level.standard_uncertainty, 1.5 * 2.0, 1e-12));
  const auto rest = detail::mixture_of(grid, 600.0, true).parts.at(0);
  CHECK(near_relative(rest.value, 55.0 * each.left(600.0), 1e-12));
  CHECK(near_relative(rest.standard_uncertainty, 1.5 * 3.0 * each.left(600.0), 1e-12));
  const auto curve = detail::curves_of(grid).at(0);
  CHECK(near_relative(curve.slow_s, 2000.0, 1e-12));
  CHECK(near_relative(curve.fast_s, 150.0, 1e-12));
  CHECK(near_relative(curve.level_variance, 2.25 * 4.0, 1e-12));
  CHECK(near_relative(curve.amplitude_variance, 2.25 * 9.0, 1e-12));
}

TEST_CASE("the rise at any time is the curve there, with the variance of level and amplitude together") {
  checks::heat_run_result run;
  run.first = units::seconds(100.0);
  const double level_variance = 4.0, amplitude_variance = 9.0, mean_left = 0.5;
  run.curves = {{0.25, 2000.0, 150.0, 0.3, 60.0, 55.0, level_variance, amplitude_variance, mean_left},
                {0.75, 1000.0, 100.0, 0.0, 50.0, 45.0, level_variance, amplitude_variance, mean_left}};
  for (const double since_on : {0.0, 100.0, 700.0, 9000.0}) {
    const auto found = checks::rise_at(run, units::seconds(since_on));
    REQUIRE(found.parts.size() == 2);
    const double time = since_on - 100.0;
    const double lefts[] = {0.7 * std::exp(-time / 2000.0) + 0.3 * std::exp(-time / 150.0), std::exp(-time / 1000.0)};
    const double rises[] = {60.0 - 55.0 * lefts[0], 50.0 - 45.0 * lefts[1]};
    for (std::size_t i = 0; i < 2; ++i) {
      // level - left amplitude: variances and twice the covariance, which is mean_left times the amplitude's variance
      const double variance =
          level_variance + lefts[i] * lefts[i] * amplitude_variance - 2.0 * lefts[i] * mean_left * amplitude_variance;
      CHECK(near_absolute(found.parts[i].value, rises[i], 1e-9));
      CHECK(near_absolute(found.parts[i].standard_uncertainty, std::sqrt(variance), 1e-9));
    }
    CHECK(found.parts[1].weight == 0.75);
  }
}

TEST_CASE("the slow time constant in the middle has half of the weight on either side") {
  detail::heat_grid grid;
  for (const double at : {3.0, 1.0, 2.0, 4.0}) {
    detail::heat_fit each;
    each.log_slow = at;
    grid.fits.push_back(each);
  }
  grid.weights = {0.1, 0.3, 0.1, 0.5};
  CHECK(detail::middle_log_slow(grid) == 3.0);
  grid.weights = {0.1, 0.3, 0.09, 0.51};
  CHECK(detail::middle_log_slow(grid) == 4.0);
  grid.weights = {0.1, 0.5, 0.1, 0.3};
  CHECK(detail::middle_log_slow(grid) == 1.0);
}

TEST_CASE("a run is steady once half an hour adds no more than asked, in whole minutes, or not within 20 constants") {
  auto one = two_bodies();
  one.share = 0.0;
  const auto after = [&](double end, double within) { return detail::steady_after(one, end, within); };
  // 55 exp(-t / 2000) (exp(0.9) - 1) <= 1 from t = 2000 ln(55 (e^0.9 - 1)) = 8771 s on
  const double known = 2000.0 * std::log(55.0 * (std::exp(0.9) - 1.0));
  const double found = units::in_seconds(*after(3000.0, 1.0));
  CHECK(found >= known - 3000.0);
  CHECK(found < known - 3000.0 + 60.0);
  CHECK(units::in_seconds(*after(9000.0, 1.0)) == 0.0);
  // Half an hour must have been run.
  CHECK(units::in_seconds(*after(600.0, 100.0)) == 1200.0);
  CHECK_FALSE(after(600.0, 1e-9).has_value());
}

TEST_CASE("the final rise is known when readings going on as before narrow it so far") {
  auto points = points_of(two_bodies());
  detail::heat_grid grid;
  grid.best = two_bodies();
  grid.scale = 1.5;
  // Written out: information of readings and beliefs, step by step.
  const auto expected = [&](double within) -> double {
    MatrixXd information = MatrixXd::Zero(5, 5);
    information(2, 2) = std::pow(std::log(2.5), -2);
    information(3, 3) = 12.0 / std::pow(std::log(500.0 / 30.0), 2);  // a quarter of the slow one, 500 s
    information(4, 4) = 12.0 / (0.6 * 0.6);
    const auto add = [&](double time, double weight) {
      const auto slopes = grid.best.slopes(time);
      const Eigen::Map<const VectorXd> by(slopes.data(), 5);
      information += weight / 2.25 * by * by.transpose();
    };
    for (Eigen::Index i = 0; i < 9; ++i) add(points.times[i], points.weights[i]);
    for (double more = 200.0; more <= 40000.0; more += 200.0) {
      add(1600.0 + more, points.weights.mean());
      if (1.959964 * std::sqrt(information.inverse()(0, 0)) <= within) return more;
    }
    return -1.0;
  };
  for (const double within : {1.0, 2.0, 5.0, 12.0}) {
    const auto found = detail::known_after(points, grid, prior, within);
    REQUIRE(found.has_value());
    CHECK(near_relative(units::in_seconds(*found), expected(within), 1e-12));
  }
  CHECK_FALSE(detail::known_after(points, grid, prior, 1e-3).has_value());
  CHECK(expected(1e-3) == -1.0);
}

TEST_CASE("a run stays where no reading lies further from the cold one than a machine moves or three uncertainties") {
  auto in = run_of({0.0, 60.0, 120.0}, {0.0, 1.4, -1.4});
  CHECK_FALSE(detail::stays(in));  // the cold reading was not told
  in.before = units::kelvins(0.0);
  in.moves_by = units::kelvins(0.2);
  CHECK(detail::stays(in));
  in.readings[1].rise = units::kelvins(1.51);
  CHECK_FALSE(detail::stays(in));
  in.readings[1].rise = units::kelvins(-1.51);
  CHECK_FALSE(detail::stays(in));
  in.moves_by = units::kelvins(1.6);
  CHECK(detail::stays(in));
  in.before = units::kelvins(0.5);
  CHECK_FALSE(detail::stays(in));
}

TEST_CASE("a run falls where its slope is below nothing by more than three standard uncertainties") {
  // Times -1, 0, 1 about their mean, weights 1 / u^2: the slope's uncertainty is u / sqrt 2.
  const auto falling = [](double slope) {
    return detail::falls(detail::points_of(run_of({0.0, 1.0, 2.0}, {20.0 - slope, 20.0, 20.0 + slope}, 1.0)));
  };
  CHECK(falling(-3.01 / std::sqrt(2.0)));
  CHECK_FALSE(falling(-2.99 / std::sqrt(2.0)));
  CHECK_FALSE(falling(3.01 / std::sqrt(2.0)));
}

TEST_CASE("a run of impossible beliefs, times or uncertainties is refused at the limit") {
  const auto refused = [](auto change) {
    auto in = run_of({0.0, 60.0, 120.0, 180.0}, {0.0, 5.0, 9.0, 12.0});
    change(in);
    try {
      checks::heat_run(in);
    } catch (const rewound::base::error&) {
      return true;
    }
    return false;
  };
  CHECK_FALSE(refused([](auto&) {}));
  CHECK(refused([](auto& in) { in.readings[1].uncertainty = units::kelvins(0.0); }));
  CHECK(refused([](auto& in) { in.readings[2].time = in.readings[1].time; }));
  CHECK(refused([](auto& in) { in.time_constant_factor = 1.0; }));
  CHECK_FALSE(refused([](auto& in) { in.time_constant_factor = 1.01; }));
  CHECK(refused([](auto& in) { in.usual_time_constant = units::seconds(0.0); }));
  CHECK(refused([](auto& in) { in.fast.share_most = -0.01; }));
  CHECK(refused([](auto& in) { in.fast.share_most = 1.0; }));
  CHECK_FALSE(refused([](auto& in) { in.fast.share_most = 0.0; }));
  CHECK(refused([](auto& in) { in.fast.shortest = units::seconds(0.0), in.fast.share_most = 0.5; }));
  CHECK(refused([](auto& in) { in.fast.longest = in.fast.shortest, in.fast.share_most = 0.5; }));
  CHECK_FALSE(refused([](auto& in) { in.fast.shortest = units::seconds(0.0), in.fast.share_most = 0.0; }));
}
