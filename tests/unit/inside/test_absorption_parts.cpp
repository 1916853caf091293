// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <vector>

#include <near.hpp>
#include <rewound/base/error.hpp>
#include <rewound/checks/absorption.hpp>

// The search behind an absorption fit and its intervals, against scans of all that could be.
namespace checks = rewound::checks;
namespace detail = rewound::checks::detail;
namespace units = rewound::units;
using rewound::testing::near_absolute;
using rewound::testing::near_relative;

namespace {

/// Currents of leakage 1 and absorption 2 with exponent 0.7, each off by a little.
detail::absorption_points some_points() {
  detail::absorption_points out;
  const double off[] = {0.01, -0.02, 0.015, 0.0, -0.01};
  const double minutes[] = {0.25, 0.5, 1.0, 2.0, 5.0};
  for (int i = 0; i < 5; ++i) {
    const double current = (1.0 + 2.0 * std::pow(minutes[i], -0.7)) * (1.0 + off[i]);
    out.push_back({minutes[i], current, 0.03 * current});
  }
  return out;
}

double chi2_of(const detail::absorption_points& points, double leakage, double absorption, double exponent) {
  double out = 0.0;
  for (const auto& p : points)
    out += std::pow((p.current - leakage - absorption * std::pow(p.minutes, -exponent)) / p.uncertainty, 2);
  return out;
}

/// Lowest chi2 with leakage and absorption tied by `tie`, which gives both from an exponent and one free number; found
/// by scanning both.
template <class Tie>
double scanned(const detail::absorption_points& points, const Tie& tie, double most) {
  double best = std::numeric_limits<double>::infinity();
  for (int step = 0; step <= 475; ++step)
    for (int i = 0; i <= 2000; ++i) {
      const double exponent = 0.1 + 0.004 * step;
      const auto [leakage, absorption] = tie(exponent, most * i / 2000.0);
      if (leakage >= 0.0 && absorption >= 0.0) best = std::min(best, chi2_of(points, leakage, absorption, exponent));
    }
  return best;
}

/// The chi2 at which an answer turns from no to yes.
template <class Some>
double threshold(const Some& some) {
  double low = 0.0, high = 1e6;
  for (int i = 0; i < 60; ++i) {
    const double middle = 0.5 * (low + high);
    (some(middle) ? high : low) = middle;
  }
  return high;
}

}  // namespace

TEST_CASE("decays are powers of the minutes, at every step of the exponents from 0.1 to 2 and between") {
  const auto points = some_points();
  detail::decays by(points, {7.0});
  CHECK(near_relative(detail::exponent_at_step(0), 0.1, 1e-12));
  CHECK(near_relative(detail::exponent_at_step(detail::exponent_steps), 2.0, 1e-12));
  CHECK(near_relative(detail::exponent_at_step(2) - detail::exponent_at_step(1), 0.025, 1e-9));
  for (const int step : {0, 1, 40, detail::exponent_steps}) {
    const double exponent = detail::exponent_at_step(step);
    for (std::size_t i = 0; i < points.size(); ++i)
      CHECK(near_relative(by.at_step(step)[i], std::pow(points[i].minutes, -exponent), 1e-12));
    CHECK(near_relative(by.at_step(step)[5], std::pow(7.0, -exponent), 1e-12));
  }
  CHECK(near_relative(by.at(0.33)[5], std::pow(7.0, -0.33), 1e-12));
}

TEST_CASE("of one free multiple the best is taken, and no other than from the lowest to the highest") {
  const auto points = some_points();
  const auto offset = [&](std::size_t i) { return points[i].current; };
  const auto slope = [&](std::size_t i) { return 1.0 / points[i].minutes; };
  const auto chi2_at = [&](double k) {
    double out = 0.0;
    for (std::size_t i = 0; i < points.size(); ++i)
      out += std::pow((offset(i) - k * slope(i)) / points[i].uncertainty, 2);
    return out;
  };
  double best = 0.0;
  for (double k = 0.0; k < 5.0; k += 1e-5)
    if (chi2_at(k) < chi2_at(best)) best = k;
  CHECK(near_relative(detail::best_multiple(points, offset, slope, 0.0, 100.0), chi2_at(best), 1e-6));
  CHECK(near_relative(detail::best_multiple(points, offset, slope, best + 0.1, 100.0), chi2_at(best + 0.1), 1e-6));
  CHECK(near_relative(detail::best_multiple(points, offset, slope, 0.0, best - 0.1), chi2_at(best - 0.1), 1e-6));
  CHECK(near_relative(detail::best_multiple(
                          points, offset, [](std::size_t) { return 0.0; }, 0.3, 1.0),
                      chi2_at(0.0), 1e-12));
}

TEST_CASE("at one exponent the split is the weighted straight line, with neither part below nothing") {
  auto points = some_points();
  detail::decays by(points);
  const auto split = [&](double exponent) { return detail::split_at(points, by.at(exponent)); };
  const auto best = split(0.7);
  CHECK(near_relative(best.chi2, chi2_of(points, best.leakage, best.absorption, 0.7), 1e-9));
  for (const double step : {-1e-3, 1e-3}) {
    CHECK(chi2_of(points, best.leakage + step, best.absorption, 0.7) > best.chi2);
    CHECK(chi2_of(points, best.leakage, best.absorption + step, 0.7) > best.chi2);
    CHECK(chi2_of(points, best.leakage + step, best.absorption - step, 0.7) > best.chi2);
  }
  // A current that rises: none absorbed, the weighted mean leaks.
  for (auto& p : points) p.current = 1.0 + 0.1 * p.minutes, p.uncertainty = 0.05 * p.minutes;
  const auto rising = split(0.7);
  double weights = 0.0, sum = 0.0;
  for (const auto& p : points)
    weights += 1.0 / (p.uncertainty * p.uncertainty), sum += p.current / (p.uncertainty * p.uncertainty);
  CHECK(rising.absorption == 0.0);
  CHECK(near_relative(rising.leakage, sum / weights, 1e-12));
  CHECK(near_relative(rising.chi2, chi2_of(points, rising.leakage, 0.0, 0.7), 1e-9));
  // One that falls faster than the exponent lets it: none leaks.
  for (auto& p : points) p.current = std::pow(p.minutes, -1.5), p.uncertainty = 0.02;
  const auto falling = split(0.7);
  CHECK(falling.leakage == 0.0);
  CHECK(falling.absorption > 0.0);
  for (const double step : {-1e-3, 1e-3}) CHECK(chi2_of(points, 0.0, falling.absorption + step, 0.7) > falling.chi2);
}

TEST_CASE("the exponent's search ends at the lowest value, at either end too, or at the first that is enough") {
  const auto points = some_points();
  detail::decays by(points);
  int asked = 0;
  const auto lowest = [&](double where) {
    return detail::search_exponent(by, [&](const double* decay) {
      ++asked;
      const double exponent = std::log(decay[0]) / -std::log(points[0].minutes);
      return std::pow(exponent - where, 2);
    });
  };
  for (const double where : {0.1, 0.1013, 0.7654321, 1.2, 1.9991, 2.0})
    CHECK(near_absolute(lowest(where).exponent, where, 1e-6));
  CHECK(near_absolute(lowest(0.02).exponent, 0.1, 1e-6));
  CHECK(near_absolute(lowest(2.2).exponent, 2.0, 1e-6));
  asked = 0;
  const auto some = [&](double) {
    return detail::search_exponent(
        by, [&](const double*) { return static_cast<double>(10 - ++asked); }, 6.0);
  };
  CHECK(some(0.0).chi2 == 6.0);
  CHECK(asked == 4);
}

TEST_CASE("whether some curve has a current, a fall, a leakage or an absorption is what a scan says") {
  const auto points = some_points();
  detail::decays by(points, {3.0, 9.0});
  for (const double wanted : {1.6, 1.9, 2.6}) {
    const double found =
        threshold([&](double allowed) { return detail::some_with_current(points, by, wanted, allowed); });
    const double best = scanned(
        points,
        [&](double n, double k) {
          return std::pair{wanted - k * std::pow(3.0, -n), k};
        },
        8.0);
    CHECK(near_absolute(found, best, 0.02 + 2e-3 * best));
  }
  for (const double ratio : {1.1, 1.35, 1.42}) {
    const double found = threshold([&](double allowed) { return detail::some_with_ratio(points, by, ratio, allowed); });
    const double best = scanned(
        points,
        [&](double n, double k) {
          const double a = std::pow(3.0, -n), b = std::pow(9.0, -n);  // leak + k a = ratio (leak + k b)
          return std::pair{k * (a - ratio * b) / (ratio - 1.0), k};
        },
        10.0 * (ratio - 1.0));
    CHECK(near_absolute(found, best, 0.02 + 2e-3 * best));
  }
  CHECK_FALSE(detail::some_with_ratio(points, by, std::pow(3.0, 2.01), 1e9));  // no exponent falls so far
  for (const double leakage : {0.0, 0.6, 1.4}) {
    const double found =
        threshold([&](double allowed) { return detail::some_with_leakage(points, by, leakage, allowed); });
    const double best = scanned(
        points,
        [&](double, double k) {
          return std::pair{leakage, k};
        },
        8.0);
    CHECK(near_absolute(found, best, 0.02 + 2e-3 * best));
  }
  for (const double absorption : {0.5, 1.8, 2.6}) {
    const double found =
        threshold([&](double allowed) { return detail::some_with_absorption(points, by, absorption, allowed); });
    const double best = scanned(
        points,
        [&](double, double k) {
          return std::pair{k, absorption};
        },
        8.0);
    CHECK(near_absolute(found, best, 0.02 + 2e-3 * best));
  }
}

TEST_CASE("a region ends where it is left, in both directions, and at the bound where it is not") {
  const auto within = [](double low, double high) { return [=](double x) { return x >= low && x <= high; }; };
  for (const double end : {0.011, 0.5, 2.7}) {
    CHECK(near_absolute(detail::region_end(within(0.0, std::exp(end)), 0.0, 1.0, 40.0), end, 1e-7));
    CHECK(near_absolute(detail::region_end(within(std::exp(-end), 9.0), 0.0, -1.0, -40.0), -end, 1e-7));
  }
  CHECK(detail::region_end(within(0.0, 1e300), 0.0, 1.0, 3.0) == 3.0);
  CHECK(detail::region_end(within(0.0, 1e300), 0.0, -1.0, -3.0) == -3.0);
  CHECK(near_absolute(detail::region_end(within(0.0, std::exp(2.999)), 0.0, 1.0, 3.0), 2.999, 1e-7));
}

TEST_CASE("intervals of the parameters are where a scan finds curves that fit nearly as well, bounds kept") {
  const auto points = some_points();
  checks::absorption_input in{{}, units::volts(500.0)};
  for (const auto& p : points)
    in.readings.push_back({units::seconds(60.0 * p.minutes), units::megohms(500.0 / p.current), 0.03});
  const auto fit = checks::absorption(in);
  REQUIRE(fit.usable());
  const auto ranges = checks::parameter_ranges(fit);
  const double allowed = fit.chi2 + std::pow(1.959964 * fit.scale, 2);
  detail::decays by(points);
  const auto leaks = [&](double uA) { return detail::some_with_leakage(points, by, uA, allowed); };
  const auto absorbs = [&](double uA) { return detail::some_with_absorption(points, by, uA, allowed); };
  const auto decaying = [&](double n) { return detail::split_at(points, by.at(n)).chi2 <= allowed; };
  const auto ends = [](const auto& range, const auto& is_allowed, auto in_uA) {
    const double low = in_uA(range.low), high = in_uA(range.high);
    CHECK(is_allowed(low * 1.0001));
    CHECK(is_allowed(high * 0.9999));
    CHECK_FALSE(is_allowed(high * 1.0001));
    if (low > 0.0) CHECK_FALSE(is_allowed(low * 0.9999));
    CHECK(low < high);
  };
  const auto uA = [](units::current i) { return 1e6 * units::in_amperes(i); };
  ends(ranges.leakage, leaks, uA);
  ends(ranges.absorption, absorbs, uA);
  ends(ranges.exponent, decaying, [](double n) { return n; });
  CHECK(ranges.exponent.low < fit.exponent);
  CHECK(ranges.exponent.high > fit.exponent);
  // Readings of a curve without leakage: the interval reaches nothing, and of few readings the exponent's its bounds.
  for (std::size_t i = 0; i < points.size(); ++i)
    in.readings[i].resistance = units::megohms(500.0 / (2.0 * std::pow(points[i].minutes, -0.7)));
  const auto bare = checks::parameter_ranges(checks::absorption(in));
  CHECK(units::in_amperes(bare.leakage.low) == 0.0);
  CHECK(units::in_amperes(bare.leakage.high) > 0.0);
  in.readings.resize(3);
  for (auto& each : in.readings) each.relative_uncertainty = 0.5;
  const auto wide = checks::parameter_ranges(checks::absorption(in));
  CHECK(near_relative(wide.exponent.low, 0.1, 1e-6));
  CHECK(near_relative(wide.exponent.high, 2.0, 1e-6));
  CHECK(units::in_amperes(wide.absorption.low) == 0.0);
}

TEST_CASE("a predicted resistance and ratio end where a scan finds no curve that fits nearly as well") {
  const auto points = some_points();
  checks::absorption_input in{{}, units::volts(500.0)};
  for (const auto& p : points)
    in.readings.push_back({units::seconds(60.0 * p.minutes), units::megohms(500.0 / p.current), 0.03});
  const auto fit = checks::absorption(in);
  const double allowed = fit.chi2 + std::pow(1.959964 * fit.scale, 2);
  detail::decays one(points, {10.0}), two(points, {1.0, 10.0});
  const auto found = checks::predicted_resistance(fit, units::seconds(600.0));
  const auto at = [&](double megohms) { return detail::some_with_current(points, one, 500.0 / megohms, allowed); };
  const double low = 1e-6 * units::in_ohms(found.range.low), high = 1e-6 * units::in_ohms(found.range.high);
  CHECK(at(low * 1.0001));
  CHECK_FALSE(at(low * 0.9999));
  CHECK(at(high * 0.9999));
  CHECK_FALSE(at(high * 1.0001));
  const auto ratio = checks::predicted_ratio(fit, units::seconds(600.0), units::seconds(60.0));
  const auto falls = [&](double by) { return detail::some_with_ratio(points, two, by, allowed); };
  CHECK(falls(ratio.range.low * 1.0001));
  CHECK_FALSE(falls(ratio.range.low * 0.9999));
  CHECK(falls(ratio.range.high * 0.9999));
  CHECK_FALSE(falls(ratio.range.high * 1.0001));
  // The values are those of the best curve.
  const double leakage = 1e6 * units::in_amperes(fit.leakage), absorbed = 1e6 * units::in_amperes(fit.absorption);
  const double late = leakage + absorbed * std::pow(10.0, -fit.exponent);
  CHECK(near_relative(1e-6 * units::in_ohms(found.value), 500.0 / late, 1e-4));
  CHECK(near_relative(ratio.value, (leakage + absorbed) / late, 1e-4));
}

TEST_CASE("readings of nothing or of no uncertainty are refused, and a ratio backwards") {
  const auto refused = [](auto change) {
    checks::absorption_input in{{}, units::volts(500.0)};
    for (const double minutes : {0.25, 0.5, 1.0, 2.0})
      in.readings.push_back({units::seconds(60.0 * minutes), units::megohms(100.0 * minutes), 0.03});
    try {
      change(in);
      checks::absorption(in);
    } catch (const rewound::base::error&) {
      return true;
    }
    return false;
  };
  CHECK_FALSE(refused([](auto&) {}));
  CHECK(refused([](auto& in) { in.readings[1].time = units::seconds(0.0); }));
  CHECK(refused([](auto& in) { in.readings[1].resistance = units::megohms(0.0); }));
  CHECK(refused([](auto& in) { in.readings[1].relative_uncertainty = 0.0; }));
  for (const double earlier : {0.0, 600.0, 700.0})
    CHECK(refused([&](auto& in) {
      checks::predicted_ratio(checks::absorption(in), units::seconds(600.0), units::seconds(earlier));
    }));
  CHECK_FALSE(refused([&](auto& in) {
    checks::predicted_ratio(checks::absorption(in), units::seconds(600.0), units::seconds(599.0));
  }));
}
