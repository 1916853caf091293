// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <optional>
#include <vector>

#include <near.hpp>
#include <simulation_size.hpp>
#include <rewound/checks/suspect.hpp>

// The steps of the search for misread readings, each at its limit and to both sides.
namespace checks = rewound::checks;
namespace detail = rewound::checks::detail;
namespace measurement = rewound::measurement;
namespace units = rewound::units;
using measurement::suspicion;
using rewound::testing::near_absolute;
using rewound::testing::near_relative;

namespace {

detail::log_point point(double volts, double amperes, double u_voltage = 0.002, double u_current = 0.002) {
  static int index = 0;
  return {index++, std::log(volts / 230.0), std::log(amperes), u_voltage, u_current, 1e-6, volts, amperes};
}

std::vector<detail::log_point> points_of(const std::vector<double>& volts, const std::vector<double>& amperes) {
  std::vector<detail::log_point> out;
  for (std::size_t i = 0; i < volts.size(); ++i) out.push_back(point(volts[i], amperes[i]));
  return out;
}

measurement::run_up run_of(const std::vector<double>& volts, const std::vector<double>& amperes) {
  measurement::run_up out;
  for (std::size_t i = 0; i < volts.size(); ++i)
    out.readings.push_back({.index = static_cast<int>(i),
                            .voltage = units::volts(volts[i]),
                            .current = units::amperes(amperes[i]),
                            .turning = true});
  return out;
}

bool offered(double read, double resolution, suspicion why, double value) {
  const auto slips = detail::possible_slips(read, resolution);
  return std::any_of(slips.begin(), slips.end(),
                     [&](const auto& each) { return each.why == why && near_relative(each.value, value, 1e-9); });
}

}  // namespace

TEST_CASE("slips are two neighbouring digits exchanged, a decimal place either way, and a range of a thousand") {
  CHECK(offered(3.25, 0.01, suspicion::digits_transposed, 2.35));
  CHECK(offered(3.25, 0.01, suspicion::digits_transposed, 3.52));
  CHECK_FALSE(offered(3.25, 0.01, suspicion::digits_transposed, 5.23));
  for (const double factor : {10.0, 0.1}) CHECK(offered(3.25, 0.01, suspicion::decimal_slipped, 3.25 * factor));
  for (const double factor : {1000.0, 0.001}) CHECK(offered(3.25, 0.01, suspicion::wrong_range, 3.25 * factor));
  CHECK(detail::possible_slips(0.09, 0.01).size() == 4);  // one digit has no neighbour
  CHECK(detail::possible_slips(0.10, 0.01).size() == 5);
  CHECK(detail::possible_slips(0.11, 0.01).size() == 4);  // alike
  CHECK(detail::possible_slips(123456789.0, 1.0).size() == 12);
  CHECK(detail::possible_slips(1234567890.0, 1.0).size() == 4);
}

TEST_CASE("readings scatter by a third of their meter's digits, and never by less than the rounding") {
  measurement::instrument<units::current> meter{};
  meter.resolution = units::amperes(0.01);
  meter.digits = 10.0;
  const double digits = units::in_amperes(meter.digit_uncertainty());
  CHECK(near_relative(checks::own_digits(meter), 0.3 * digits, 1e-12));
  meter.digits = 0.5;
  const double rounding = 0.005 / std::sqrt(3.0);
  CHECK(near_relative(checks::own_digits(meter), rounding, 1e-12));
}

TEST_CASE("a current of two digits at no voltage and a current of less than half a digit are told at once") {
  measurement::instrument<units::voltage> voltmeter{};
  voltmeter.resolution = units::volts(0.1);
  voltmeter.digits = 3.0;
  measurement::instrument<units::current> ammeter{};
  ammeter.resolution = units::amperes(0.01);
  ammeter.digits = 3.0;
  const auto found = [&](double volts, double amperes) {
    std::vector<checks::suspect_reading> out;
    const auto points =
        detail::usable_points(run_of({volts}, {amperes}), units::volts(230.0), voltmeter, ammeter, out, 4);
    return std::pair{points, out};
  };
  CHECK(found(0.0, 0.0199).second.empty());
  CHECK(found(0.0, 0.0199).first.empty());
  REQUIRE(found(0.0, 0.02).second.size() == 1);
  CHECK(found(0.0, 0.02).second[0].why == suspicion::current_without_voltage);
  CHECK(found(0.0, 0.02).second[0].voltage);
  CHECK(found(0.0, 0.02).second[0].run == 4);
  REQUIRE(found(115.0, 0.0049).second.size() == 1);
  CHECK(found(115.0, 0.0049).second[0].why == suspicion::reads_zero);
  CHECK(found(115.0, 0.0051).second.empty());
  const auto at = found(115.0, 0.5).first.at(0);
  CHECK(near_relative(at.z, std::log(0.5), 1e-12));
  CHECK(near_relative(at.log_current, std::log(0.5), 1e-12));
  CHECK(near_relative(at.u_voltage, 0.3 / std::sqrt(3.0) / 115.0, 1e-9));
  CHECK(near_relative(at.u_current, 0.03 / std::sqrt(3.0) / 0.5, 1e-9));
  const double own_voltage = checks::own_digits(voltmeter) / 115.0;
  const double own_current = checks::own_digits(ammeter) / 0.5;
  CHECK(near_relative(at.variance, own_voltage * own_voltage + own_current * own_current, 1e-12));
}

TEST_CASE("voltages are one within two and a half standard uncertainties of their difference") {
  const double both = std::hypot(0.002, 0.002);
  const auto same = [&](double apart) {
    return detail::same_voltage(point(200.0, 1.0), point(200.0 * std::exp(apart), 1.0));
  };
  CHECK(same(2.49 * both));
  CHECK(same(-2.49 * both));
  CHECK_FALSE(same(2.51 * both));
  CHECK_FALSE(same(-2.51 * both));
}

TEST_CASE("between neighbours an exponent from -1.5 to 4 can be, with three uncertainties and a little to spare") {
  const double slack = 3.0 * std::hypot(0.002, 0.002, 2.0 * std::hypot(0.002, 0.002)) + 0.004;
  const auto can_be = [&](double rise) {
    return detail::plausible_between(point(115.0, 1.0), point(230.0, std::exp(rise)));
  };
  const double dz = std::log(2.0);
  CHECK(can_be(4.0 * dz + slack - 1e-6));
  CHECK_FALSE(can_be(4.0 * dz + slack + 1e-6));
  CHECK(can_be(-1.5 * dz - slack + 1e-6));
  CHECK_FALSE(can_be(-1.5 * dz - slack - 1e-6));
  const auto three = [&](double middle) {
    return detail::all_plausible(points_of({115.0, 160.0, 230.0}, {1.0, middle, 2.0}));
  };
  CHECK(three(1.4));
  CHECK_FALSE(three(14.0));
  CHECK_FALSE(three(0.14));
  CHECK_FALSE(detail::all_plausible(points_of({115.0, 160.0, 230.0}, {1.0, 1.4, 20.0})));
}

TEST_CASE("of two or three readings the one that a slip puts near proportion is named, several or none disagree") {
  const auto slipped = detail::implausible(points_of({115.0, 160.0, 230.0}, {0.5, 7.0, 1.0}), 0.01);
  REQUIRE(slipped.size() == 1);
  CHECK(slipped[0].why == suspicion::decimal_slipped);
  CHECK(near_relative(*slipped[0].would_fit, 0.7, 1e-12));
  CHECK(near_relative(slipped[0].read, 7.0, 1e-12));
  CHECK(detail::implausible(points_of({115.0, 160.0, 230.0}, {0.5, 0.7, 1.0}), 0.01).empty());
  // Either may be ten times off: both are said to disagree, neither is set aside.
  const auto either = detail::implausible(points_of({115.0, 230.0}, {0.5, 10.0}), 0.01);
  REQUIRE(either.size() == 2);
  for (const auto& each : either) {
    CHECK(each.why == suspicion::readings_disagree);
    CHECK_FALSE(each.would_fit.has_value());
  }
  CHECK(detail::implausible(points_of({115.0, 160.0, 230.0}, {0.5, 33.0, 1.0}), 1.0).size() == 3);
}

TEST_CASE("a slip of two readings counts where the exponent it leaves is within 0.6 of proportion") {
  // 100 V and 200 V; the lower is ten times what was read or the upper a tenth: exponents alike, either would do.
  const auto exponent_left = [](double exponent) {
    return detail::implausible(points_of({100.0, 200.0}, {1.0, 10.0 * std::pow(2.0, exponent)}), 1e-9);
  };
  CHECK(exponent_left(1.0).size() == 2);
  CHECK_FALSE(exponent_left(1.0)[0].would_fit.has_value());
}

TEST_CASE("repeated readings of one voltage disagree beyond three uncertainties and 3 percent of drift") {
  const double allowed = 3.0 * std::hypot(0.002, 0.002) + 0.03;
  const auto told = [&](double apart) {
    std::vector<checks::suspect_reading> out;
    detail::disagreements(points_of({200.0, 200.0, 230.0}, {1.0, std::exp(apart), 1.2}), out);
    return out;
  };
  CHECK(told(allowed - 1e-6).empty());
  CHECK(told(-allowed + 1e-6).empty());
  CHECK(told(allowed + 1e-6).size() == 2);
  CHECK(told(-allowed - 1e-6).size() == 2);
  CHECK(told(0.5)[0].why == suspicion::readings_disagree);
  // What was found before is not told again.
  const auto points = points_of({200.0, 200.0}, {1.0, 2.0});
  std::vector<checks::suspect_reading> out{{0, points[1].index, false, suspicion::off_curve, 2.0, std::nullopt, true}};
  detail::disagreements(points, out);
  CHECK(out.size() == 2);
}

TEST_CASE("a current that falls with rising voltage is told beyond three uncertainties and 1 percent") {
  const double allowed = 3.0 * std::hypot(0.002, 0.002) + 0.01;
  const auto told = [&](double volts, double fall) {
    std::vector<checks::suspect_reading> out;
    detail::falls(points_of({200.0, volts}, {1.0, std::exp(-fall)}), out);
    return out;
  };
  CHECK(told(230.0, allowed - 1e-6).empty());
  REQUIRE(told(230.0, allowed + 1e-6).size() == 1);
  CHECK(told(230.0, allowed + 1e-6)[0].why == suspicion::falls_with_voltage);
  CHECK(told(230.0, -0.5).empty());
  CHECK(told(200.0, 0.5).empty());  // one voltage: that is a disagreement
  CHECK(detail::fall_is_odd(points_of({1, 2, 3}, {1, 2, 3})));
  CHECK_FALSE(detail::fall_is_odd(points_of({1, 2, 3, 4}, {3, 2, 1, 1.1})));
  CHECK(detail::fall_is_odd(points_of({1, 2, 3, 4}, {1, 2, 3, 2.9})));
}

TEST_CASE("a rotor can have begun to turn only where the slope lies a quarter below the middle one above") {
  // Slopes above the second reading: 1, 1, 1; into it so much.
  const auto steps = [](double slope) {
    std::vector<double> amperes{1.0};
    double log_current = 0.0;
    std::vector<double> volts{100.0};
    for (const double each : {slope, 1.0, 1.0, 1.0}) {
      log_current += each * 0.1;
      volts.push_back(volts.back() * std::exp(0.1));
      amperes.push_back(std::exp(log_current));
    }
    return detail::steps_down_after(points_of(volts, amperes), 1);
  };
  CHECK(steps(0.749));
  CHECK_FALSE(steps(0.751));
}

TEST_CASE("how much better a rotor at rest explains the lowest readings is the ratio of densities written out") {
  const std::vector<double> volts{80.0, 90.0, 110.0, 130.0, 150.0, 180.0, 210.0, 230.0};
  std::vector<double> amperes;
  for (const double each : volts) amperes.push_back(0.4 * std::pow(each / 230.0, 1.2));
  amperes[1] = 0.4 * std::pow(90.0 / 230.0, 1.2) * 1.7;
  amperes[0] = amperes[1] * 80.0 / 90.0;
  const auto points = points_of(volts, amperes);
  const std::vector<detail::log_point> running(points.begin() + 2, points.end());
  const auto curve = detail::shape_points_of(running);
  const auto expected = detail::predict_at(curve, points[1].z, 0.002 * 0.002);
  const auto normal = [](double away, double deviation) {
    return std::log(std::exp(-0.5 * std::pow(away / deviation, 2)) / (deviation * std::sqrt(2.0 * 3.14159265358979)));
  };
  const double excess = points[1].log_current - expected.log_current;
  const double apart = points[1].z - points[0].z;
  const double gain = detail::evidence_of(curve).all + normal(excess - 0.5, std::hypot(0.4, expected.uncertainty)) +
                      normal(0.0, std::hypot(0.02, 0.002, 0.15 * apart)) - 7.0;
  CHECK(near_absolute(detail::at_rest_gain(points, 2, 7.0), gain, 1e-3));
  auto off = points;
  off[0].log_current += 0.03;
  const double less = 0.5 * std::pow(0.03 / std::hypot(0.02, 0.002, 0.15 * apart), 2);
  CHECK(near_absolute(detail::at_rest_gain(off, 2, 7.0), gain - less, 1e-3));
  // So little above the running curve is none.
  auto near = points;
  near[1].log_current = expected.log_current + 0.079;
  CHECK(detail::at_rest_gain(near, 2, 7.0) < -1e299);
  near[1].log_current = expected.log_current + 0.081;
  CHECK(detail::at_rest_gain(near, 2, 7.0) > -1e299);
}

TEST_CASE("readings of a rotor at rest are taken out, and those of a steady curve are not") {
  const std::vector<double> volts{80.0, 90.0, 110.0, 130.0, 150.0, 180.0, 210.0, 230.0};
  std::vector<double> amperes;
  for (const double each : volts) amperes.push_back(0.4 * std::pow(each / 230.0, 1.2));
  auto steady = points_of(volts, amperes);
  CHECK(detail::at_rest(steady).empty());
  CHECK(steady.size() == 8);
  amperes[1] *= 1.7;
  amperes[0] = amperes[1] * 80.0 / 90.0;
  auto begun = points_of(volts, amperes);
  const auto first = begun[0].index;
  const auto found = detail::at_rest(begun);
  REQUIRE(found.size() == 2);
  CHECK(found[0].index == first);
  CHECK(found[1].why == suspicion::rotor_at_rest);
  CHECK(begun.size() == 6);
}

TEST_CASE("a speed's scatter is the others' evidence nine parts of ten, and the usual one otherwise") {
  detail::scatter_shares evidence{};
  for (std::size_t i = 0; i < evidence.size(); ++i) evidence[i] = 0.7 * static_cast<double>(i) - 3.0;
  const auto usual = detail::usual_shares();
  const auto told = detail::shares_beside({evidence, std::nullopt, evidence}, 1);
  double sum = 0.0;
  detail::scatter_shares expected{};
  for (std::size_t i = 0; i < evidence.size(); ++i) sum += expected[i] = usual[i] * std::exp(2.0 * evidence[i]);
  for (std::size_t i = 0; i < evidence.size(); ++i)
    CHECK(near_relative(told[i], 0.9 * expected[i] / sum + 0.1 * usual[i], 1e-9));
  const auto alone = detail::shares_beside({evidence}, 0);
  for (std::size_t i = 0; i < evidence.size(); ++i) CHECK(near_relative(alone[i], usual[i], 1e-9));
}

TEST_CASE("evidence of a size of scatter is that of all readings and of all but each, with a hundredth for each") {
  const auto points =
      detail::shape_points_of(points_of({100.0, 130.0, 160.0, 190.0, 220.0, 240.0}, {0.15, 0.2, 0.26, 0.33, 0.4, 0.5}));
  const auto found = detail::evidence_of_scatter(points);
  for (std::size_t size = 0; size < found.size(); ++size) {
    // Weighed by that size alone: all shares on it, the others next to nothing.
    detail::scatter_shares only;
    only.fill(1e-300);
    only[size] = 1.0;
    const auto evidence = detail::evidence_of(points, rewound::base::widest_lanes(), only);
    double sum = std::exp(evidence.all);
    for (const double each : evidence.all_but) sum += 0.01 * std::exp(each);
    CHECK(near_relative(found[size], std::log(sum), 1e-9));
  }
}

TEST_CASE("the middle of values is the one in the middle, or half-way between two") {
  CHECK(detail::median({3.0, 1.0, 2.0}) == 2.0);
  CHECK(detail::median({4.0, 1.0, 2.0, 3.0}) == 2.5);
  CHECK(detail::median({5.0}) == 5.0);
}

TEST_CASE("readings are brought to the rated voltage in proportion, but for those at rest, of nothing or found") {
  auto run = run_of({115.0, 230.0, 0.0, 200.0, 100.0}, {0.3, 0.7, 0.1, 0.0, 9.0});
  const std::vector<checks::suspect_reading> found{{2, 4, false, suspicion::off_curve, 9.0, std::nullopt, true}};
  const auto values = detail::at_rated(run, units::volts(230.0), found, 2);
  REQUIRE(values.size() == 2);
  CHECK(near_relative(values[0], 0.6, 1e-12));
  CHECK(near_relative(values[1], 0.7, 1e-12));
  CHECK(detail::at_rated(run, units::volts(230.0), found, 1).size() == 3);
  run.readings[1].turning = false;
  CHECK(detail::at_rated(run, units::volts(230.0), found, 2).size() == 1);
}

TEST_CASE("beside an expectation a reading is odd by a factor of 2, and a slip brings it within 1.35") {
  const auto found = [](double amperes, double digit = 1e-6) {
    std::vector<checks::suspect_reading> out;
    detail::search_between_speeds({run_of({230.0, 115.0}, {amperes, 0.5})}, {units::amperes(1.0)}, units::volts(230.0),
                                  digit, out);
    return out;
  };
  CHECK(found(1.0).empty());
  CHECK(found(10.0).size() == 1);
  CHECK(near_relative(*found(10.0)[0].would_fit, 1.0, 1e-12));
  CHECK(found(0.1).size() == 1);
  CHECK(near_relative(*found(0.1)[0].would_fit, 1.0, 1e-12));
  CHECK(found(1000.0)[0].why == suspicion::wrong_range);
  CHECK(found(13.4).size() == 1);
  CHECK(found(13.6).empty());
  CHECK(found(7.45).size() == 1);
  CHECK(found(7.35).empty());
  CHECK(found(4.0).empty());  // out of proportion, but no slip would put it right
}

TEST_CASE("exchanged digits are believed of a lone reading alone, from a factor of 2 on") {
  const auto found = [](std::vector<double> volts, std::vector<double> amperes) {
    std::vector<checks::suspect_reading> out;
    detail::search_between_speeds({run_of(volts, amperes)}, {units::amperes(0.26)}, units::volts(230.0), 0.01, out);
    return out;
  };
  REQUIRE(found({230.0}, {0.62}).size() == 1);
  CHECK(found({230.0}, {0.62})[0].why == suspicion::digits_transposed);
  CHECK(found({230.0, 115.0}, {0.62, 0.13}).empty());
}

TEST_CASE("without an expectation the other speeds' middle serves: a factor of 2.5, and a slip within 1.67") {
  const auto found = [](double amperes) {
    std::vector<checks::suspect_reading> out;
    detail::search_between_speeds(
        {run_of({230.0, 200.0}, {1.0, 0.87}), run_of({230.0}, {0.8}), run_of({230.0, 115.0}, {amperes, 0.5})}, {},
        units::volts(230.0), 1e-6, out);
    return std::count_if(out.begin(), out.end(), [](const auto& each) { return each.run == 2; });
  };
  const double middle = 0.5 * (0.5 * (1.0 + 0.87 * 230.0 / 200.0) + 0.8);
  CHECK(found(middle) == 0);
  CHECK(found(10.0 * middle * 1.66) == 1);
  CHECK(found(10.0 * middle * 1.68) == 0);
  CHECK(found(10.0 * middle / 1.66) == 1);
  CHECK(found(10.0 * middle / 1.68) == 0);
}

namespace {

const detail::bench fine_bench{1e-6, 1e-6};

/// Eight readings of a steady curve, some of them off by so much in the logarithm.
std::vector<detail::log_point> eight_readings(const std::vector<std::pair<std::size_t, double>>& off,
                                              std::size_t count = 8) {
  std::vector<double> volts, amperes;
  for (std::size_t i = 0; i < count; ++i) {
    volts.push_back(100.0 * std::pow(2.3, static_cast<double>(i) / static_cast<double>(count - 1)));
    amperes.push_back(0.4 * std::pow(volts.back() / 230.0, 1.2));
  }
  for (const auto& [place, by] : off) amperes[place] *= std::exp(by);
  return points_of(volts, amperes);
}

/// Gain of each reading being the wrong one, written out.
std::vector<detail::hypothesis> gains_of(const std::vector<detail::log_point>& points, const detail::bench& with) {
  const auto evidence = detail::evidence_on(with, points);
  std::vector<detail::hypothesis> out;
  double most = 0.0;
  for (std::size_t i = 0; i < points.size(); ++i) {
    const double away = std::abs(points[i].log_current - evidence.by_others[i].log_current);
    if (away < 0.01) continue;
    out.push_back({{i}, evidence.all_but[i] - evidence.all - (away < 0.03 ? 1.0 : 0.0)});
    most = std::max(most, out.back().gain);
  }
  for (auto& each : out) {
    const bool weighed = most >= 3.4 && each.gain > most - 6.0;
    if (weighed && detail::explained(points[each.wrong[0]], detail::without(points, each.wrong[0]), with).would_fit)
      each.gain += 2.3;
  }
  return out;
}

}  // namespace

TEST_CASE("a reading's gain is the others' evidence over that of all, less 1 where small, 2.3 more with a slip") {
  int small = 0, slips = 0;
  for (const double off : {0.0, 0.012, 0.022, 0.028, 0.033, 0.045, 0.1, std::log(10.0), -std::log(10.0)})
    for (const std::size_t place : {0u, 3u, 7u}) {
      const auto points = eight_readings({{place, off}});
      const auto found = detail::single_hypotheses(points, fine_bench);
      const auto expected = gains_of(points, fine_bench);
      REQUIRE(found.size() == expected.size());
      for (std::size_t i = 0; i < found.size(); ++i) {
        CHECK(found[i].wrong == expected[i].wrong);
        CHECK(near_absolute(found[i].gain, expected[i].gain, 1e-9));
        small += std::abs(off) < 0.03;
        slips += detail::explained(points[found[i].wrong[0]], detail::without(points, found[i].wrong[0]), fine_bench)
                     .would_fit.has_value();
      }
    }
  CHECK(small > 0);
  CHECK(slips > 0);
}

TEST_CASE("a pair's gain is that of one and then of the other, the better way round, less 4 for the second") {
  const auto points = eight_readings({{2, 0.3}, {5, -0.2}});
  const auto singles = detail::single_hypotheses(points, fine_bench);
  const auto pairs = detail::pair_hypotheses(points, singles, fine_bench);
  CHECK_FALSE(pairs.empty());
  for (const auto& pair : pairs) {
    REQUIRE(pair.wrong.size() == 2);
    CHECK(pair.wrong[0] < pair.wrong[1]);
    double best = -1e300;
    for (const bool turned : {false, true}) {
      const auto first = pair.wrong[turned ? 1 : 0], second = pair.wrong[turned ? 0 : 1];
      for (const auto& one : singles)
        if (one.wrong[0] == first)
          for (const auto& then : detail::single_hypotheses(detail::without(points, first), fine_bench))
            if (then.wrong[0] == (second < first ? second : second - 1))
              best = std::max(best, one.gain + then.gain - 4.0);
    }
    CHECK(near_absolute(pair.gain, best, 1e-9));
  }
  CHECK(detail::explanations_of(points, true, fine_bench).front().wrong == std::vector<std::size_t>{2, 5});
  for (const auto& each : detail::explanations_of(points, false, fine_bench)) CHECK(each.wrong.size() == 1);
}

TEST_CASE("nothing is explained where no reading's gain reaches thirty to one, and shares are those of the odds") {
  int none = 0, some = 0;
  for (double off = 0.0; off < 0.1; off += 0.004) {
    const auto points = eight_readings({{4, off}});
    const auto gains = gains_of(points, fine_bench);
    double most = -1e300;
    for (const auto& each : gains) most = std::max(most, each.gain);
    const auto found = detail::explanations_of(points, false, fine_bench);
    CHECK(found.empty() == (most < 3.4));
    (found.empty() ? none : some) += 1;
    double sum = 0.0;
    for (const auto& each : gains) sum += std::exp(each.gain - most);
    double before = 1e300;
    for (const auto& each : found) {
      CHECK(near_absolute(each.share, std::exp(each.gain - most) / sum, 1e-9));
      CHECK(each.gain <= before);
      before = each.gain;
    }
  }
  CHECK(none > 3);
  CHECK(some > 3);
}

TEST_CASE("readings are set aside from a probability of 0.75, of few 0.95; else those above 0.05 disagree") {
  const double step = 0.6 / rewound::testing::simulated(30);
  for (const std::size_t count : {5u, 8u}) {
    int aside = 0, open = 0, between = 0;
    for (const double variance : {1e-6, 1e-3})
      for (const std::size_t place : {std::size_t{0}, std::size_t{1}, count / 2, count - 1})
        for (double off = -0.3; off < 0.3; off += step) {
          auto points = eight_readings({{place, off}, {count - 2, 0.5 * off}}, count);
          for (auto& each : points) each.variance = variance;
          const auto before = points;
          const auto explained = detail::explanations_of(points, count >= 6, fine_bench);
          const auto found = detail::off_curve(points, fine_bench);
          if (explained.empty()) {
            CHECK(found.empty());
            continue;
          }
          const double share = explained.front().share;
          between += share > 0.7 && share < 0.97;
          if (share >= (count >= 6 ? 0.75 : 0.95)) {
            ++aside;
            REQUIRE(found.size() >= explained.front().wrong.size());
            for (std::size_t i = 0; i < explained.front().wrong.size(); ++i) {
              CHECK(found[i].set_aside);
              CHECK(found[i].index == before[explained.front().wrong[i]].index);
            }
            CHECK(points.size() < count);
          } else {
            ++open;
            std::vector<double> probability(count, 0.0);
            for (const auto& each : explained)
              for (const auto wrong : each.wrong) probability[wrong] += each.share;
            CHECK(found.size() == static_cast<std::size_t>(std::count_if(probability.begin(), probability.end(),
                                                                         [](double each) { return each > 0.05; })));
            for (const auto& each : found) {
              CHECK(each.why == suspicion::readings_disagree);
              CHECK_FALSE(each.set_aside);
            }
            CHECK(points.size() == count);
          }
        }
    if (rewound::testing::simulation_slack > 0.0) continue;  // few are tried
    CHECK(aside > 5);
    CHECK(open > 5);
    CHECK(between > 3);
  }
}

TEST_CASE("at most a third of the readings is set aside, and of three none") {
  for (const std::size_t count : {4u, 6u, 9u}) {
    std::vector<std::pair<std::size_t, double>> off;
    for (std::size_t i = 1; i < count; i += 2) off.emplace_back(i, i % 4 == 1 ? 1.5 : -1.3);
    auto points = eight_readings(off, count);
    const auto found = detail::off_curve(points, fine_bench);
    CHECK(std::count_if(found.begin(), found.end(), [](const auto& each) { return each.set_aside; }) <=
          static_cast<std::ptrdiff_t>(count / 3));
  }
  auto three = eight_readings({{1, 2.0}}, 3);
  CHECK(detail::off_curve(three, fine_bench).empty());
  auto four = eight_readings({{1, std::log(10.0)}}, 4);
  CHECK(detail::off_curve(four, fine_bench).size() == 1);
}

TEST_CASE("a slipped voltage is offered where it can be: above a twentieth of the rated one and below 1.65 times it") {
  const auto others = eight_readings({});
  const auto offered_at = [&](double true_volts, double factor) {
    auto read = point(true_volts * factor, 1.0);
    const auto curve = detail::shape_points_of(others);
    read.log_current = detail::predict_at(curve, std::log(true_volts / 230.0), read.variance).log_current;
    read.current = std::exp(read.log_current);
    return detail::explained(read, others, {10.0, 1000.0});  // no exchange of digits
  };
  const auto twelve = offered_at(12.0, 10.0);  // ln (12 / 230) = -2.95
  REQUIRE(twelve.would_fit.has_value());
  CHECK(twelve.voltage);
  CHECK(near_relative(*twelve.would_fit, 12.0, 1e-9));
  CHECK_FALSE(offered_at(11.0, 10.0).voltage);  // -3.04
  CHECK(offered_at(370.0, 0.1).voltage);        // ln (370 / 230) = 0.475
  CHECK_FALSE(offered_at(385.0, 0.1).voltage);  // 0.515
}

TEST_CASE("the middle slope is that of all above, and the slope before it that of the readings it lies between") {
  const auto steps = [](const std::vector<double>& slopes, std::size_t count) {
    std::vector<double> volts{100.0}, amperes{1.0};
    for (const double each : slopes) {
      volts.push_back(volts.back() * std::exp(0.1));
      amperes.push_back(amperes.back() * std::exp(0.1 * each));
    }
    return detail::steps_down_after(points_of(volts, amperes), count);
  };
  CHECK(steps({9.0, 0.74, 0.2, 1.0, 5.0}, 2));
  CHECK_FALSE(steps({9.0, 0.76, 0.2, 1.0, 5.0}, 2));
  CHECK(steps({9.0, 1.74, 0.2, 1.0, 2.0, 5.0}, 2));  // of an even number the upper
  CHECK_FALSE(steps({9.0, 1.76, 0.2, 1.0, 2.0, 5.0}, 2));
  CHECK(steps({0.74, 0.2, 1.0, 5.0}, 1));
}

TEST_CASE("a rotor may have stood still at up to half of the readings, four of which have to be left") {
  const auto found = [](std::size_t count, std::size_t at_rest) {
    auto points = eight_readings({}, count);
    const double top = points[at_rest - 1].z;
    const double excess = points[at_rest - 1].log_current + 0.5;
    for (std::size_t i = 0; i < at_rest; ++i) {
      points[i].log_current = excess + points[i].z - top;
      points[i].current = std::exp(points[i].log_current);
    }
    return detail::at_rest(points).size();
  };
  CHECK(found(8, 4) == 4);
  CHECK(found(9, 4) == 4);
  CHECK(found(7, 3) == 3);
  CHECK(found(7, 4) != 4);
  CHECK(found(5, 1) == 1);
  CHECK(found(6, 2) == 2);
  CHECK(found(6, 3) != 3);
}

TEST_CASE("the one of three readings that a slip explains leaves an exponent within 0.6 of proportion") {
  const auto found = [](double exponent) {
    std::vector<double> volts{100.0, 150.0, 200.0}, amperes;
    for (const double each : volts) amperes.push_back(0.1 * std::pow(each / 100.0, exponent));
    amperes[0] *= 10.0;
    return detail::implausible(points_of(volts, amperes), 1.0);
  };
  for (const double exponent : {0.41, 1.59}) CHECK(found(exponent).size() == 1);
  for (const double exponent : {0.39, 1.61}) CHECK(found(exponent).size() == 3);
}

TEST_CASE("a speed that was found by its expectation is no yardstick for the others") {
  std::vector<checks::suspect_reading> found;
  detail::search_between_speeds({run_of({230.0}, {10.0}), run_of({230.0, 115.0}, {1.0, 0.5})},
                                {units::amperes(1.0), std::nullopt}, units::volts(230.0), 1e-6, found);
  REQUIRE(found.size() == 1);
  CHECK(found[0].run == 0);
}

TEST_CASE("without an expectation exchanged digits are believed of a lone reading from a factor of 2.5 on") {
  const auto found = [](double usual, double read) {
    std::vector<checks::suspect_reading> out;
    detail::search_between_speeds({run_of({230.0}, {usual}), run_of({230.0}, {usual}), run_of({230.0}, {read})}, {},
                                  units::volts(230.0), 0.01, out);
    return std::count_if(out.begin(), out.end(), [](const auto& each) { return each.run == 2; });
  };
  CHECK(found(0.14, 0.41) == 1);  // 2.93
  CHECK(found(0.13, 0.31) == 0);  // 2.38
}

TEST_CASE("four readings are searched for one off their curve, and told where the current falls at the top") {
  auto points = eight_readings({{3, -0.45}}, 4);
  for (auto& each : points) each.variance = 1e-2;  // too uncertain for one to be off its curve
  const auto found = detail::search_one_speed(points, fine_bench);
  CHECK(std::any_of(found.begin(), found.end(),
                    [](const auto& each) { return each.why == suspicion::falls_with_voltage; }));
  auto off = eight_readings({{1, std::log(10.0)}}, 4);
  const auto one = detail::search_one_speed(off, fine_bench);
  REQUIRE_FALSE(one.empty());
  CHECK(one[0].why == suspicion::decimal_slipped);
  CHECK(one[0].set_aside);
}
