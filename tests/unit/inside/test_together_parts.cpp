// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include <Eigen/Dense>

#include <near.hpp>
#include <rewound/checks/suspect.hpp>

// The search for a misread reading by all speeds and channels together, against normal densities written out densely.
namespace together_parts {

namespace checks = rewound::checks;
namespace detail = rewound::checks::detail;
namespace fit = rewound::fit;
namespace machine = rewound::machine;
namespace measurement = rewound::measurement;
namespace units = rewound::units;
using measurement::suspicion;
using rewound::testing::near_absolute;
using rewound::testing::near_relative;

constexpr std::array<std::pair<double, double>, 4> scatters{{{0.002, 0.45}, {0.006, 0.25}, {0.013, 0.2}, {0.025, 0.1}}};

detail::channel_point point_at(std::size_t run, double x, double log_value) {
  detail::channel_point out;
  out.run = run;
  out.z = std::log(x);
  out.log_value = log_value;
  out.variance = 4e-6;
  out.variance_of_z = 9e-6;
  out.functions = detail::basis(x);
  return out;
}

/// A parabola by least squares, its slope and curvature held to what is believed of them.
Eigen::Vector3d parabola(const std::vector<detail::channel_point>& points, std::size_t run, double usual) {
  std::vector<Eigen::RowVector4d> rows{{0.0, 1.0 / 0.8, 0.0, usual / 0.8}, {0.0, 0.0, 1.0 / 0.7, 0.0}};
  for (const auto& each : points)
    if (each.run == run) rows.emplace_back(1.0 / 0.01, each.z / 0.01, each.z * each.z / 0.01, each.log_value / 0.01);
  Eigen::MatrixXd all(static_cast<Eigen::Index>(rows.size()), 4);
  for (std::size_t i = 0; i < rows.size(); ++i) all.row(static_cast<Eigen::Index>(i)) = rows[i];
  return all.leftCols(3).colPivHouseholderQr().solve(all.col(3));
}

/// Residuals and their covariance under a belief, with this much scatter beyond the meters.
struct dense_belief {
  Eigen::VectorXd residual;
  Eigen::MatrixXd covariance;

  dense_belief(const std::vector<detail::channel_point>& points, const detail::curve_belief& belief, double deviation)
      : residual(points.size()), covariance(points.size(), points.size()) {
    for (std::size_t i = 0; i < points.size(); ++i) {
      const auto& a = points[i];
      residual[static_cast<Eigen::Index>(i)] = a.log_value - a.functions.dot(belief.mean[a.run]);
      for (std::size_t j = 0; j < points.size(); ++j) {
        const auto& b = points[j];
        double shared = 0.0;
        for (Eigen::Index k = 0; k < detail::departure_terms; ++k)
          shared += std::pow(belief.common[k], 2) * a.functions[k + 1] * b.functions[k + 1];
        if (a.run == b.run) {
          const Eigen::MatrixXd own = belief.own_factor[a.run] * belief.own_factor[a.run].transpose();
          shared += a.functions.dot(own * b.functions);
        }
        if (i == j)
          shared += a.variance + a.slope * a.slope * a.variance_of_z + a.beyond * a.beyond +
                    deviation * deviation * (1.0 + a.slope * a.slope) / 2.0;
        covariance(static_cast<Eigen::Index>(i), static_cast<Eigen::Index>(j)) = shared;
      }
    }
  }

  /// ln density with one residual moved, without the constant of all.
  double log_density(Eigen::Index moved = 0, double by = 0.0) const {
    Eigen::VectorXd at = residual;
    at[moved] += by;
    const Eigen::LLT<Eigen::MatrixXd> factor(covariance);
    const double log_determinant = 2.0 * Eigen::MatrixXd(factor.matrixL()).diagonal().array().log().sum();
    return -0.5 * (at.dot(factor.solve(at)) + log_determinant);
  }
};

TEST_CASE("each speed has the parabola of its own readings and of how its channel usually rises") {
  std::vector<detail::channel_point> points;
  for (const double x : {0.5, 0.7, 0.9, 1.05}) points.push_back(point_at(0, x, 0.3 + 1.1 * std::log(x)));
  for (const double x : {0.6, 1.0}) points.push_back(point_at(2, x, -0.2 + 0.5 * std::log(x) + 0.1 * x));
  detail::set_slopes(points, 3, 0.9);
  for (const auto& each : points) {
    const auto curve = parabola(points, each.run, 0.9);
    CHECK(near_relative(each.slope, curve[1] + 2.0 * curve[2] * each.z, 1e-7));
    CHECK(near_absolute(each.curvature, curve[2], 1e-7));
  }
}

TEST_CASE("a channel rises as currents, watts and rpm of small machines do") {
  CHECK(detail::usual_rise(fit::channel::current) == 0.9);
  CHECK(detail::usual_rise(fit::channel::power) == 1.8);
  CHECK(detail::usual_rise(fit::channel::rotation) == 0.3);
}

checks::known_curve known_curve_of(double level, double spread) {
  checks::known_curve out;
  out.coefficients = Eigen::VectorXd::Zero(detail::summary_terms);
  out.coefficients.head(3) << level, 0.9, 0.2;
  out.covariance = 1e-4 * Eigen::MatrixXd::Identity(detail::summary_terms, detail::summary_terms);
  out.spread = {0.04, spread, 2.0 * spread};
  return out;
}

TEST_CASE("without a known curve three beliefs share alike how far speeds depart together and apart") {
  checks::channel_readings read{fit::channel::power, 0.1, {}, {known_curve_of(0.0, 0.1)}};  // one of two is not enough
  const auto beliefs = detail::beliefs_of(read, 2);
  REQUIRE(beliefs.size() == 3);
  const auto population = machine::shape_spread();
  const double shares[] = {0.07, 0.25, 0.7};
  for (std::size_t i = 0; i < 3; ++i) {
    CHECK(near_relative(std::exp(beliefs[i].log_weight), 1.0 / 3.0, 1e-12));
    for (std::size_t run = 0; run < 2; ++run) {
      CHECK(beliefs[i].mean[run][1] == 1.8);
      CHECK(beliefs[i].mean[run].cwiseAbs().sum() == 1.8);
      CHECK(near_relative(beliefs[i].own_factor[run](0, 0), 5.0, 1e-12));  // of ln: nothing is known of the level
      for (std::size_t k = 0; k < population.size(); ++k) {
        const auto at = static_cast<Eigen::Index>(k);
        CHECK(near_relative(beliefs[i].own_factor[run](at + 1, at + 1), shares[i] * population[k], 1e-12));
        CHECK(beliefs[i].common[at] == population[k]);
      }
    }
  }
}

TEST_CASE("about known curves good machines lie as they spread, faulty ones four times as far, and few as any do") {
  checks::channel_readings read{fit::channel::current, 0.1, {}, {known_curve_of(0.1, 0.05), known_curve_of(0.4, 0.08)}};
  const auto beliefs = detail::beliefs_of(read, 2);
  REQUIRE(beliefs.size() == 5);
  const auto population = machine::shape_spread();
  for (std::size_t i = 0; i < 3; ++i) CHECK(near_relative(std::exp(beliefs[i].log_weight), 0.05 / 3.0, 1e-12));
  const double weights[] = {0.6, 0.35}, times[] = {1.0, 4.0};
  for (std::size_t i = 0; i < 2; ++i) {
    const auto& belief = beliefs[3 + i];
    CHECK(near_relative(std::exp(belief.log_weight), weights[i], 1e-12));
    Eigen::VectorXd widest = Eigen::VectorXd::Zero(detail::departure_terms);
    for (std::size_t run = 0; run < 2; ++run) {
      const auto& curve = *read.known[run];
      CHECK((belief.mean[run] - curve.coefficients).norm() == 0.0);
      Eigen::MatrixXd expected = curve.covariance;
      expected(0, 0) += 25.0;
      for (Eigen::Index k = 1; k < detail::summary_terms; ++k) {
        // Slope and curvature as good machines spread, finer shape in the proportion of the population's to them.
        const double spread = k < 3 ? curve.spread[static_cast<std::size_t>(k)]
                                    : 0.003 * population[static_cast<std::size_t>(k - 1)] / population[2];
        expected(k, k) += 0.3 * std::pow(times[i] * spread, 2);
        widest[k - 1] = std::max(widest[k - 1], std::sqrt(0.7) * times[i] * spread);
      }
      const Eigen::MatrixXd own = belief.own_factor[run] * belief.own_factor[run].transpose();
      CHECK((own - expected).norm() < 1e-12 * expected.norm());
      CHECK((own - expected).bottomRightCorner(detail::departure_terms, detail::departure_terms).norm() < 1e-14);
    }
    CHECK((belief.common - widest).norm() < 1e-14);
  }
}

TEST_CASE("evidence, and each reading beside all others, are those of the joint normal distribution") {
  std::vector<detail::channel_point> points;
  for (const double x : {0.5, 0.7, 0.9, 1.05, 1.3}) points.push_back(point_at(0, x, 0.3 + 1.1 * std::log(x)));
  for (const double x : {0.6, 0.8, 1.0}) points.push_back(point_at(1, x, -0.2 + 0.5 * std::log(x) + 0.01 * x));
  points[1].log_value += 0.03;
  points[4].beyond = 0.02;
  detail::set_slopes(points, 2, 0.9);
  const auto beliefs = detail::beliefs_of({fit::channel::current, 0.1, {}, {}}, 2);
  const auto components = detail::weigh_together(points, 2, beliefs);
  REQUIRE(components.size() == beliefs.size() * scatters.size());
  for (std::size_t i = 0; i < components.size(); ++i) {
    const auto& belief = beliefs[i / scatters.size()];
    const dense_belief dense(points, belief, scatters[i % scatters.size()].first);
    CHECK(near_absolute(components[i].log_evidence, belief.log_weight + dense.log_density(), 1e-6));
    const Eigen::MatrixXd inverse = dense.covariance.inverse();
    const Eigen::VectorXd pull = inverse * dense.residual;
    for (std::size_t j = 0; j < points.size(); ++j) {
      const auto at = static_cast<Eigen::Index>(j);
      CHECK(near_relative(components[i].variance[j], 1.0 / inverse(at, at), 1e-6));
      CHECK(near_absolute(components[i].away[j], pull[at] / inverse(at, at), 1e-7));
    }
  }
}

/// Two speeds of a healthy machine read in amperes and watts. Values are rounded as meters show them.
struct two_speeds {
  std::vector<measurement::run_up> runs;
  std::vector<checks::channel_readings> channels;
  static constexpr double rated_V = 230.0, volt = 0.1, ampere = 0.001, own_volt = 0.05, own_ampere = 0.0004,
                          own_watt = 0.05;

  explicit two_speeds(std::size_t readings = 5, std::size_t speeds = 2) {
    channels = {{fit::channel::current, own_ampere, {}, {}}, {fit::channel::power, own_watt, {}, {}}};
    for (std::size_t run = 0; run < speeds; ++run) {
      measurement::run_up& out = runs.emplace_back();
      channels[0].values.emplace_back(), channels[1].values.emplace_back();
      for (std::size_t i = 0; i < readings; ++i) {
        const double volts = 131.7 + 27.0 * static_cast<double>(i) + static_cast<double>(run);
        const double x = volts / rated_V, level = 0.423 * std::pow(0.8, static_cast<double>(run));
        const double wobble = 1.0 + 0.003 * std::sin(static_cast<double>(7 * i + 3 * run));
        out.readings.push_back({static_cast<int>(i + 10 * run), units::volts(volts),
                                units::amperes(std::round(level * std::pow(x, 0.9) * wobble / ampere) * ampere), true});
        channels[1].values.back().push_back(std::round(900.0 * level * std::pow(x, 1.85) / wobble) / 10.0);
      }
    }
    take_currents();
  }
  void take_currents() {
    for (std::size_t run = 0; run < runs.size(); ++run) {
      channels[0].values[run].clear();
      for (const auto& reading : runs[run].readings) channels[0].values[run].push_back(reading.current.value());
    }
  }
  detail::search_together search() const { return {runs, units::volts(rated_V), volt, ampere, own_volt, channels}; }
};

/// The same search by dense normal densities: every way in which a row may be misread, weighed.
class dense_search {
 public:
  dense_search(const two_speeds& test, const std::vector<std::pair<std::size_t, std::size_t>>& left_out) : test_(test) {
    for (std::size_t run = 0; run < test.runs.size(); ++run)
      for (std::size_t i = 0; i < test.runs[run].readings.size(); ++i)
        if (std::find(left_out.begin(), left_out.end(), std::pair{run, i}) == left_out.end())
          rows_.emplace_back(run, i);
    for (const auto& channel : test.channels) {
      std::vector<detail::channel_point> points;
      for (const auto& [run, i] : rows_) {
        const double volts = test.runs[run].readings[i].voltage.value(), value = channel.values[run][i];
        auto each = point_at(run, volts / two_speeds::rated_V, std::log(value));
        each.variance = std::pow(channel.own_uncertainty / value, 2);
        each.variance_of_z = std::pow(two_speeds::own_volt / volts, 2);
        each.beyond = machine::shape_functions_at(each.z).beyond_uncertainty;
        points.push_back(each);
      }
      const double usual = channel.what == fit::channel::current ? 0.9 : 1.8;
      auto sloped = points;
      for (auto& each : sloped) {
        const auto curve = parabola(points, each.run, usual);
        each.slope = curve[1] + 2.0 * curve[2] * each.z;
        each.curvature = curve[2];
      }
      points_.push_back(sloped);
      std::vector<std::pair<double, dense_belief>> of_channel;
      for (const auto& belief : detail::beliefs_of(channel, test.runs.size()))
        for (const auto& [deviation, share] : scatters)
          of_channel.emplace_back(belief.log_weight, dense_belief(sloped, belief, deviation));
      beliefs_.push_back(std::move(of_channel));
    }
    plain_ = evidence({}, {});
  }

  std::size_t rows() const { return rows_.size(); }
  std::pair<std::size_t, std::size_t> place(std::size_t row) const { return rows_[row]; }

  bool stands_out(std::size_t row) const {
    for (const auto& channel : beliefs_)
      for (const auto& [weight, dense] : channel) {
        const Eigen::MatrixXd inverse = dense.covariance.inverse();
        const auto at = static_cast<Eigen::Index>(row);
        if (std::abs((inverse * dense.residual)[at]) > 2.0 * std::sqrt(inverse(at, at))) return true;
      }
    return false;
  }

  /// Weight of the row's current, or voltage, being misread, and what a slip would make of it.
  std::pair<double, std::optional<double>> weight(std::size_t row, bool voltage) const {
    const auto& reading = test_.runs[rows_[row].first].readings[rows_[row].second];
    const double value = voltage ? reading.voltage.value() : reading.current.value();
    const double digit = voltage ? two_speeds::volt : two_speeds::ampere;
    const auto ratio = [&](double by) { return evidence(row, change{by, voltage}) / plain_; };
    double slips = 0.0, best = 0.0, count = 0.0;
    std::optional<double> would_fit;
    const std::string digits = std::to_string(std::llround(value / digit));
    for (std::size_t i = 1; i < digits.size(); ++i) {
      auto other = digits;
      std::swap(other[i - 1], other[i]);
      if (other == digits || std::stod(other) == 0.0) continue;
      count += 1.0;
      const double by = std::log(std::stod(other) * digit / value);
      const double found = std::abs(by) > 0.4 ? 0.0 : ratio(by);
      slips += found;
      if (found <= best) continue;
      best = found;
      would_fit = std::stod(other) * digit;
    }
    slips = count > 0.0 ? 0.6 * slips / count : 0.0;
    // Sizes from 2 % in twelve equal ratios to 0.4 in the logarithm, half about 5 %, half about 20 %.
    double others = 0.0;
    for (int i = 0; i < 12; ++i) {
      const double size = 0.02 * std::pow(0.4 / 0.02, i / 11.0);
      const auto normal = [&](double deviation) {
        return std::exp(-size * size / (2.0 * deviation * deviation)) / (deviation * std::sqrt(2.0 * std::numbers::pi));
      };
      others += 0.5 * (normal(0.05) + normal(0.2)) * size * std::log(0.4 / 0.02) / 11.0 * (ratio(size) + ratio(-size));
    }
    others *= 0.4;
    if (slips <= others) would_fit.reset();
    return {0.02 / (2.0 * static_cast<double>(rows_.size())) * (slips + others), would_fit};
  }

 private:
  struct change {
    double by;
    bool voltage;
  };

  /// Evidence of all channels: as likely as not the bench scatters alike in all.
  double evidence(std::optional<std::size_t> row, std::optional<change> misread) const {
    double apart = 1.0;
    std::array<double, scatters.size()> alike{};
    for (std::size_t size = 0; size < alike.size(); ++size) alike[size] = scatters[size].second;
    for (std::size_t c = 0; c < beliefs_.size(); ++c) {
      double shift = 0.0;
      if (misread && misread->voltage) {
        const auto& at = points_[c][*row];
        shift = -misread->by * at.slope - misread->by * misread->by * at.curvature;
      } else if (misread && c == 0) {
        shift = misread->by;
      }
      double own = 0.0;
      std::array<double, scatters.size()> by_size{};
      for (std::size_t i = 0; i < beliefs_[c].size(); ++i) {
        const auto& [weight, dense] = beliefs_[c][i];
        by_size[i % scatters.size()] +=
            std::exp(weight + dense.log_density(static_cast<Eigen::Index>(row.value_or(0)), shift));
      }
      for (std::size_t size = 0; size < alike.size(); ++size) {
        own += scatters[size].second * by_size[size];
        alike[size] *= by_size[size];
      }
      apart *= own;
    }
    double sum = apart;
    for (const double each : alike) sum += each;
    return 0.5 * sum;
  }

  const two_speeds& test_;
  std::vector<std::pair<std::size_t, std::size_t>> rows_;
  std::vector<std::vector<detail::channel_point>> points_;
  std::vector<std::vector<std::pair<double, dense_belief>>> beliefs_;
  double plain_ = 0.0;
};

void check_weights(const two_speeds& test, const std::vector<checks::suspect_reading>& aside,
                   const std::vector<std::pair<std::size_t, std::size_t>>& left_out) {
  const dense_search dense(test, left_out);
  auto search = test.search();
  const auto found = search.weigh(aside);
  std::size_t told = 0;
  double sum = 0.98, most = 0.0;
  for (std::size_t row = 0; row < dense.rows(); ++row) {
    if (!dense.stands_out(row)) continue;
    REQUIRE(told < found.size());
    const auto& each = found[told++];
    const auto [run, i] = dense.place(row);
    const auto& reading = test.runs[run].readings[i];
    CHECK(each.current.run == run);
    CHECK(each.current.index == reading.index);
    CHECK(each.current.read == reading.current.value());
    CHECK(each.voltage.read == reading.voltage.value());
    CHECK(each.voltage.voltage);
    CHECK_FALSE(each.current.voltage);
    for (const bool voltage : {false, true}) {
      const auto [weight, would_fit] = dense.weight(row, voltage);
      CHECK(near_relative(voltage ? each.of_voltage : each.of_current, weight, 1e-5));
      const auto& said = voltage ? each.voltage : each.current;
      REQUIRE(said.would_fit.has_value() == would_fit.has_value());
      if (would_fit) CHECK(near_relative(*said.would_fit, *would_fit, 1e-12));
      CHECK(said.why == (would_fit ? suspicion::digits_transposed : suspicion::off_curve));
    }
    sum += each.of_current + each.of_voltage;
    most = std::max(most, each.of_current + each.of_voltage);
  }
  CHECK(told == found.size());
  // Named where it is 93 times of 100 the one.
  CHECK(search.next(aside).has_value() == (most >= 0.93 * sum));
}

TEST_CASE("rows that lie off are weighed by all ways of being misread, as dense normal densities have it") {
  for (const double off : {1.0, 1.012, 1.02, 1.03, 0.95}) {
    CAPTURE(off);
    two_speeds test;
    auto& current = test.runs[0].readings[2].current;
    current = units::amperes(std::round(current.value() * off * 1000.0) / 1000.0);
    test.take_currents();
    check_weights(test, {}, {});
    auto& volts = test.runs[1].readings[3].voltage;
    volts = units::volts(std::round(volts.value() * off * 10.0) / 10.0);
    check_weights(test, {}, {});
  }
  two_speeds exchanged;
  exchanged.runs[0].readings[2].current = units::amperes(0.327);  // 0.372
  exchanged.take_currents();
  check_weights(exchanged, {}, {});
}

TEST_CASE("a row is named from 93 of 100 on, two tests of a hundred having a misreading at all") {
  const auto share_at = [](double own_ampere, bool& named) {
    two_speeds test;
    auto& current = test.runs[0].readings[2].current;
    current = units::amperes(current.value() * 1.15);
    test.take_currents();
    test.channels[0].own_uncertainty = own_ampere;
    auto search = test.search();
    double sum = 0.98, most = 0.0;
    for (const auto& each : search.weigh({})) {
      sum += each.of_current + each.of_voltage;
      most = std::max(most, each.of_current + each.of_voltage);
    }
    named = search.next({}).has_value();
    return most / sum;
  };
  for (const auto& [share, expected] : {std::pair{0.929, false}, {0.931, true}}) {
    double sure = 0.0004, vague = 0.1;  // how steadily amperes are read
    bool named = false;
    for (int i = 0; i < 40; ++i) {
      const double middle = 0.5 * (sure + vague);
      (share_at(middle, named) > share ? sure : vague) = middle;
    }
    CHECK(near_absolute(share_at(sure, named), share, 1e-6));
    CHECK(named == expected);
  }
}

TEST_CASE("what was set aside leaves its row out, and nothing else") {
  two_speeds test;
  test.runs[0].readings[2].current = units::amperes(test.runs[0].readings[2].current.value() * 1.03);
  test.runs[1].readings[2].current = units::amperes(test.runs[1].readings[2].current.value() * 0.97);
  test.take_currents();
  const auto named = [](std::size_t run, int index, bool set_aside) {
    return checks::suspect_reading{run, index, false, suspicion::off_curve, 0.0, {}, set_aside};
  };
  check_weights(test, {named(0, 2, true)}, {{0, 2}});
  check_weights(test, {named(1, 12, true)}, {{1, 2}});
  check_weights(test, {named(1, 2, true)}, {});  // no such reading on that speed
  check_weights(test, {named(0, 2, false)}, {});
}

TEST_CASE("four readings are the fewest that anything is said of") {
  for (const std::size_t readings : {std::size_t{3}, std::size_t{4}}) {
    two_speeds test(readings, 1);
    test.runs[0].readings[1].current = units::amperes(0.5);
    test.take_currents();
    CHECK(test.search().weigh({}).empty() == (readings < 4));
  }
}

TEST_CASE("a certain misreading settles what its own speed left open, and no more than three are named") {
  two_speeds test(6, 4);
  for (std::size_t run = 0; run < 4; ++run) {
    for (auto& channel : test.channels) {
      auto curve = known_curve_of(0.0, 0.005);
      curve.coefficients[1] = channel.what == fit::channel::current ? 0.9 : 1.85;
      curve.coefficients[2] = 0.0;
      curve.covariance *= 0.01;
      channel.known.emplace_back(curve);
    }
    // Each by much less than the one before, or none of them were the certain one.
    auto& current = test.runs[run].readings[2].current;
    current = units::amperes(current.value() * (1.0 + 0.32 * std::pow(0.6, static_cast<double>(run))));
  }
  test.take_currents();
  std::vector<checks::suspect_reading> found;
  detail::search_whole_test(test.search(), found);
  CHECK(found.size() == 3);

  two_speeds one(6, 2);
  one.runs[0].readings[2].current = units::amperes(one.runs[0].readings[2].current.value() * 1.25);
  one.take_currents();
  const auto told = [](std::size_t run, int index, suspicion why, bool set_aside) {
    return checks::suspect_reading{run, index, false, why, 0.0, {}, set_aside};
  };
  found = {told(0, 0, suspicion::readings_disagree, false), told(0, 2, suspicion::off_curve, false),
           told(0, 4, suspicion::off_curve, false),         told(1, 12, suspicion::readings_disagree, false),
           told(0, 5, suspicion::readings_disagree, true),  told(1, 14, suspicion::off_curve, false)};
  detail::search_whole_test(one.search(), found);
  std::vector<std::pair<std::size_t, int>> left;
  for (const auto& each : found) left.emplace_back(each.run, each.index);
  CHECK(left == std::vector<std::pair<std::size_t, int>>{{0, 4}, {1, 12}, {0, 5}, {1, 14}, {0, 2}});
}

}  // namespace together_parts
