// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <string_view>
#include <vector>

#include <Eigen/Dense>

#include <near.hpp>
#include <rewound/base/error.hpp>
#include <rewound/checks/design_match.hpp>
#include <rewound/checks/rise.hpp>
#include <rewound/checks/summary.hpp>
#include <rewound/checks/suspect.hpp>
#include <rewound/checks/trend.hpp>

// Trends, summaries of a curve, usual exponents and the misfit of a design, against normal equations written out.
namespace line_parts {

namespace checks = rewound::checks;
namespace detail = rewound::checks::detail;
namespace fit = rewound::fit;
namespace machine = rewound::machine;
using Eigen::MatrixXd;
using Eigen::VectorXd;
using rewound::testing::near_absolute;
using rewound::testing::near_relative;

struct solved {
  VectorXd at;
  MatrixXd covariance;
  double chi2;
};

solved normal_equations(const MatrixXd& design, const VectorXd& target, const VectorXd& weights) {
  const MatrixXd inverse = (design.transpose() * weights.asDiagonal() * design).inverse();
  const VectorXd at = inverse * (design.transpose() * weights.asDiagonal() * target);
  const VectorXd off = target - design * at;
  return {at, inverse, off.dot(weights.asDiagonal() * off)};
}

checks::trend_input visits(const std::vector<double>& values, double u) {
  checks::trend_input out;
  out.minimum = 5.0;
  for (std::size_t i = 0; i < values.size(); ++i)
    out.points.push_back({2015.0 + 1.5 * static_cast<double>(i), values[i], u * (1.0 + 0.1 * static_cast<double>(i))});
  return out;
}

TEST_CASE("a trend with two steps is the weighted line with a height for each, widened by its scatter") {
  auto in = visits({820.0, 770.0, 800.0, 420.0, 385.0, 405.0, 50.0, 46.5, 52.0}, 0.025);
  in.common_uncertainty = 0.03;
  const auto found = checks::trend(in);
  REQUIRE(found.steps.size() == 2);
  CHECK(found.steps[0].index == 3);
  CHECK(found.steps[1].index == 6);
  MatrixXd design(9, 4);
  VectorXd logs(9), weights(9);
  for (Eigen::Index i = 0; i < 9; ++i) {
    const auto& point = in.points[static_cast<std::size_t>(i)];
    design.row(i) << 1.0, point.years - 2027.0, i >= 3 ? 1.0 : 0.0, i >= 6 ? 1.0 : 0.0;
    logs[i] = std::log(point.value);
    weights[i] = std::pow(point.relative_uncertainty, -2);
  }
  const auto line = normal_equations(design, logs, weights);
  const double scale = std::sqrt(std::max(1.0, (4.0 + line.chi2) / (4.0 + 5.0)));
  CHECK(scale > 1.05);
  CHECK(near_relative(found.scale, scale, 1e-9));
  CHECK(near_relative(found.slope_per_year->value, line.at[1], 1e-9));
  for (Eigen::Index k = 0; k < 2; ++k) {
    const auto& step = found.steps[static_cast<std::size_t>(k)];
    const double u = scale * std::sqrt(line.covariance(2 + k, 2 + k));
    CHECK(near_relative(step.factor, std::exp(line.at[2 + k]), 1e-9));
    CHECK(near_relative(step.range.low, std::exp(line.at[2 + k] - 1.959964 * u), 1e-6));
    CHECK(near_relative(step.range.high, std::exp(line.at[2 + k] + 1.959964 * u), 1e-6));
  }
  REQUIRE(found.line.size() == 9 + 40);
  for (std::size_t i = 0; i < found.line.size(); ++i) {
    const bool read = i < 9;
    Eigen::VectorXd x(4);
    const double years = read ? in.points[i].years - 2027.0 : 10.0 * static_cast<double>(i - 8) / 40.0;
    x << 1.0, years, !read || i >= 3 ? 1.0 : 0.0, !read || i >= 6 ? 1.0 : 0.0;
    const double u = std::hypot(scale * std::sqrt(x.dot(line.covariance * x)), 0.03);
    CHECK(near_absolute(found.line[i].years, years, 1e-9));
    CHECK(near_relative(found.line[i].value, std::exp(x.dot(line.at)), 1e-9));
    CHECK(near_relative(found.line[i].range.low, std::exp(x.dot(line.at) - 1.959964 * u), 1e-6));
    CHECK(near_relative(found.line[i].range.high, std::exp(x.dot(line.at) + 1.959964 * u), 1e-6));
  }
}

TEST_CASE("a step is told by three points or more, where the line gains by it and not by scatter alone") {
  CHECK(checks::trend(visits({600.0, 100.0}, 0.05)).steps.empty());
  CHECK(checks::trend(visits({600.0, 610.0, 100.0}, 0.05)).steps.size() == 1);
  CHECK(checks::trend(visits({100.0, 175.0, 100.0, 175.0, 100.0, 175.0}, 0.1)).steps.empty());
  // The later step is the larger one and found first; both are told in order.
  const auto both = checks::trend(visits({800.0, 805.0, 795.0, 400.0, 402.0, 398.0, 50.0, 50.2, 49.8}, 0.02));
  REQUIRE(both.steps.size() == 2);
  CHECK(both.steps[0].index == 3);
  CHECK(both.steps[1].index == 6);
}

TEST_CASE("unless said otherwise a trend looks ten years ahead, and a step is three uncertainties and half as much") {
  const checks::trend_input plain;
  CHECK(plain.horizon_years == 10.0);
  CHECK(plain.step_certainty == 3.0);
  CHECK(plain.step_factor == 1.5);
}

std::vector<fit::curve_reading> read_at(const std::vector<double>& x, double wobble) {
  std::vector<fit::curve_reading> out;
  for (std::size_t i = 0; i < x.size(); ++i)
    out.push_back({x[i], 0.4 * std::pow(x[i], 1.2) * (1.0 + wobble * std::sin(2.0 + 3.0 * static_cast<double>(i))),
                   0.002 + 0.0001 * static_cast<double>(i), 0.004 + 0.0002 * static_cast<double>(i)});
  return out;
}

TEST_CASE("a summary is the normal equations of its readings, those of five or more widened by their scatter") {
  for (const double wobble : {0.0, 0.03})
    for (const std::size_t count : {std::size_t{4}, std::size_t{5}, std::size_t{8}}) {
      CAPTURE(count);
      std::vector<double> x;
      for (std::size_t i = 0; i < count; ++i) x.push_back(0.55 + 0.07 * static_cast<double>(i));
      checks::summary_input in;
      in.readings = read_at(x, wobble);
      const auto n = static_cast<Eigen::Index>(count);
      MatrixXd design(n, detail::summary_terms);
      VectorXd target(n), weights(n);
      const double slope = fit::log_line(in.readings).second;
      for (Eigen::Index i = 0; i < n; ++i) {
        const auto& reading = in.readings[static_cast<std::size_t>(i)];
        design.row(i) = detail::basis(reading.x).transpose();
        target[i] = std::log(reading.current);
        weights[i] = 1.0 / (std::pow(reading.relative_u_current, 2) + std::pow(slope * reading.relative_u_x, 2) +
                            std::pow(0.003, 2));
      }
      double square = 1.0;
      if (count >= 5) {
        // The shape beyond the parabola is a priori as wide as machines' are.
        const VectorXd spread = checks::shape_spread();
        MatrixXd precision = design.transpose() * weights.asDiagonal() * design;
        for (Eigen::Index k = 0; k < spread.size(); ++k) precision(3 + k, 3 + k) += std::pow(spread[k], -2);
        const VectorXd at = precision.ldlt().solve(design.transpose() * (weights.asDiagonal() * target));
        const VectorXd off = target - design * at;
        const double chi2 =
            off.dot(weights.asDiagonal() * off) + at.tail(spread.size()).cwiseQuotient(spread).squaredNorm();
        square = std::max(1.0, (4.0 + chi2) / (4.0 + static_cast<double>(count) - 3.0));
        if (wobble > 0.0 && count == 8) CHECK(square > 2.0);
      }
      const auto block = checks::summarise(in);
      const MatrixXd normal = design.transpose() * (weights / square).asDiagonal() * design;
      CHECK((block.information.precision - normal).norm() < 1e-6 * normal.norm());
      const auto zeros = checks::zeros_of(in);
      VectorXd own(n), volts(n);
      for (Eigen::Index i = 0; i < n; ++i) {
        own[i] = in.readings[static_cast<std::size_t>(i)].relative_u_current;
        volts[i] = -slope * in.readings[static_cast<std::size_t>(i)].relative_u_x;
      }
      const MatrixXd weighted = design.transpose() * (weights / square).asDiagonal();
      CHECK((zeros.own - weighted * own).norm() < 1e-6 * zeros.own.norm());
      CHECK((zeros.volts - weighted * volts).norm() < 1e-6 * zeros.volts.norm());
    }
}

TEST_CASE("a slope is told by voltages three uncertainties apart, half a percent being the least of these") {
  const auto told = [](double apart, double u) {
    checks::summary_input in;
    // In no order: the lowest and the highest voltage count.
    in.readings = {{std::exp(0.5 * apart), 0.4, u, 0.01}, {std::exp(apart), 0.5, u, 0.01}, {1.0, 0.3, u, 0.01}};
    return checks::summarise(in).tested;
  };
  CHECK(told(0.0151, 0.0) == 2);
  CHECK(told(0.0149, 0.0) == 1);
  const double wide = 3.0 * std::sqrt(2.0 * 0.02 * 0.02 + 0.005 * 0.005);
  CHECK(told(wide * 1.001, 0.02) == 2);
  CHECK(told(wide * 0.999, 0.02) == 1);
}

TEST_CASE("usual exponents to a higher voltage are those of each kind's coefficients, 0.3 about the simulated ones") {
  const double z = std::log(1.1);
  const auto functions = machine::shape_functions_at(z);
  const Eigen::Map<const VectorXd> f(functions.values.data(), static_cast<Eigen::Index>(functions.values.size()));
  for (const bool bare : {false, true}) {
    const auto usual = detail::exponents_between(z, bare);
    std::size_t at = 0;
    double total = 0.0;
    for (const auto& kind : machine::curve_kinds())
      if (kind.name.starts_with(bare ? "bare_" : "loaded_")) total += kind.weight;
    for (const auto& kind : machine::curve_kinds()) {
      if (!kind.name.starts_with(bare ? "bare_" : "loaded_")) continue;
      REQUIRE(at < usual.size());
      MatrixXd factor(f.size(), f.size());
      for (Eigen::Index i = 0; i < f.size(); ++i)
        for (Eigen::Index j = 0; j < f.size(); ++j)
          factor(i, j) = kind.factor[static_cast<std::size_t>(i)][static_cast<std::size_t>(j)];
      const Eigen::Map<const VectorXd> mean(kind.mean.data(), f.size());
      const double variance = f.dot(factor * factor.transpose() * f) / (z * z);
      CHECK(near_relative(usual[at].mean, mean.dot(f) / z, 1e-9));
      CHECK(near_relative(usual[at].spread, std::sqrt(variance + 0.09), 1e-9));
      CHECK(near_relative(usual[at].weight, kind.weight / total, 1e-9));
      ++at;
    }
    CHECK(at == usual.size());
  }
}

TEST_CASE("what a search for misread readings goes by are odds that can be said") {
  CHECK(near_absolute(std::exp(detail::alarm), 30.0, 0.1));       // to one, before one is told
  CHECK(near_absolute(std::exp(detail::slip_bonus), 10.0, 0.1));  // for one that a slip explains
  CHECK(near_absolute(std::exp(detail::hopeless), 403.0, 1.0));   // against one that is not weighed
  CHECK(near_absolute(std::exp(detail::price_of_second), 54.6, 0.1));
  CHECK(detail::least_misreading == 0.01);
  CHECK(detail::certain == 0.75);
  CHECK(detail::worth_telling == 0.05);
}

struct known_design {
  std::vector<machine::fan_design> starts;
  checks::design_match_input in;

  known_design() {
    machine::machine_kind kind;
    kind.circuit = rewound::record::running_circuit::permanent_capacitor;
    kind.control = rewound::record::speed_control::tapped_winding;
    kind.speeds = 2;
    starts = machine::fan_population(kind, {1.0, 0.75});
    starts.resize(2);
    in.starts = starts;
    in.probes = {{0, {0.0, -0.2}, {fit::channel::current, fit::channel::power, fit::channel::rotation}}};
    in.log_values = detail::solve_probes(starts[1], in.probes).values;
    in.uncertainty = VectorXd::LinSpaced(in.log_values.size(), 0.01, 0.03);
    in.main_resistance_ohm = 1.1 * starts[0].machine.main_resistance_ohm;
  }
};

TEST_CASE("a misfit counts in full up to five uncertainties, and by the root of its square less its square beyond") {
  using detail::design_misfit;
  for (const double sign : {-1.0, 1.0}) {
    CHECK(design_misfit::tempered(sign * 4.9) == sign * 4.9);
    CHECK(near_relative(design_misfit::tempered(sign * 5.0), sign * 5.0, 1e-12));
    CHECK(near_relative(design_misfit::tempered(sign * 6.0), sign * std::sqrt(35.0), 1e-12));
    CHECK(near_relative(design_misfit::tempered(sign * 13.0), sign * std::sqrt(105.0), 1e-12));
  }
}

TEST_CASE("a design is held to what is known, to its ohms within 8 %, and to its start by how designs differ") {
  const known_design known;
  const detail::design_misfit misfit{known.in, known.starts[0]};
  VectorXd change(misfit.parameters());
  for (Eigen::Index i = 0; i < change.size(); ++i) change[i] = 0.01 * static_cast<double>(i + 1);
  VectorXd values = known.in.log_values;
  for (Eigen::Index i = 0; i < values.size(); ++i) values[i] += 0.001 * static_cast<double>(i + 1);
  const VectorXd out = misfit.residuals(known.starts[0], values, change);
  REQUIRE(out.size() == values.size() + 1 + change.size());
  for (Eigen::Index i = 0; i < values.size(); ++i)
    CHECK(near_relative(out[i], 0.001 * static_cast<double>(i + 1) / known.in.uncertainty[i], 1e-9));
  CHECK(near_relative(out[values.size()], -std::log(1.1) / 0.08, 1e-9));
  const double spread[] = {1.5, 0.25, 0.25, 0.35, 0.25, 0.15, 0.5, 0.5, 0.15, 0.25, 0.2, 0.4, 0.5, 1.0};
  REQUIRE(change.size() == 14);
  for (Eigen::Index i = 0; i < change.size(); ++i)
    CHECK(near_relative(out[values.size() + 1 + i] * spread[i], change[i], 1e-12));
  // No parameter is moved by more than e^3.
  const auto far = misfit.moved(VectorXd::Constant(14, 9.0)), furthest = misfit.moved(VectorXd::Constant(14, 3.0));
  CHECK(far.machine.main_resistance_ohm == furthest.machine.main_resistance_ohm);
  CHECK(near_relative(far.machine.main_resistance_ohm, known.starts[0].machine.main_resistance_ohm * std::exp(6.0),
                      1e-9));
}

TEST_CASE("a start is scaled to the fastest speed's current, and its misfit taken at eight uncertainties") {
  const known_design known;
  const auto [change, sum] = detail::scaled_start({known.in, known.starts[0]});
  const VectorXd values = detail::solve_probes(known.starts[0], known.in.probes).values;
  const double scale = values[0] - known.in.log_values[0];
  CHECK(near_relative(change[0], scale, 1e-12));
  CHECK(near_relative(change.squaredNorm(), scale * scale, 1e-12));
  double expected = std::pow((-std::log(1.1) + scale) / (8.0 * 0.08), 2);
  for (Eigen::Index i = 0; i < values.size(); ++i) {
    const double of_scale = i < 4 ? scale : 0.0;  // rpm stay
    expected += std::pow((values[i] - of_scale - known.in.log_values[i]) / (8.0 * known.in.uncertainty[i]), 2);
  }
  CHECK(near_relative(sum, expected, 1e-9));
}

TEST_CASE("designs weigh by their misfit, all of them less surely where the best one misses") {
  known_design known;
  known.in.fitted = 2;
  for (Eigen::Index i = 0; i < known.in.log_values.size(); ++i) known.in.log_values[i] += i % 2 == 0 ? 0.06 : -0.06;
  const auto found = checks::design_match(known.in);
  REQUIRE(found.size() == 2);
  CHECK(found[0].misfit > 1.0);
  CHECK(found[0].chi2 <= found[1].chi2);
  CHECK(near_relative(found[0].misfit, found[0].chi2 / static_cast<double>(known.in.log_values.size()), 1e-9));
  CHECK(near_relative(found[1].weight / found[0].weight,
                      std::exp((found[0].chi2 - found[1].chi2) / (2.0 * found[0].misfit)), 1e-9));
  CHECK(near_relative(found[0].weight + found[1].weight, 1.0, 1e-12));
  for (const Eigen::Index off : {-1, 1}) {
    auto wrong = known.in;
    wrong.log_values = VectorXd::Zero(known.in.log_values.size() + off);
    CHECK_THROWS_AS(checks::design_match(wrong), rewound::base::error);
    wrong.uncertainty = VectorXd::Ones(known.in.log_values.size() + off);
    CHECK_THROWS_AS(checks::design_match(wrong), rewound::base::error);
    wrong = known.in;
    wrong.uncertainty = VectorXd::Ones(known.in.log_values.size() + off);
    CHECK_THROWS_AS(checks::design_match(wrong), rewound::base::error);
  }
}

TEST_CASE("the current by ohms and reactance is the generalised mean of designs scaled to them") {
  machine::machine_kind kind;
  kind.circuit = rewound::record::running_circuit::permanent_capacitor;
  kind.control = rewound::record::speed_control::tapped_winding;
  kind.speeds = 1;
  auto designs = machine::fan_population(kind, {1.0});
  designs.resize(9);
  const rewound::measurement::uncertain<double> ohm{std::log(50.0), 0.1}, reactance{std::log(300.0), 0.2};
  MatrixXd logs(0, 2);
  for (const auto& design : designs) {
    const auto at =
        machine::running_point_when_turning(design, 0, rewound::units::volts(design.machine.rated_voltage_V));
    if (at.state != machine::running_state::runs) continue;
    const double log_A = std::log(rewound::units::in_amperes(at.line_current));
    logs.conservativeResize(logs.rows() + 1, 2);
    logs.bottomRows(1) << log_A + std::log(design.machine.main_resistance_ohm / 50.0),
        log_A + std::log(design.machine.magnetising_ohm / 300.0);
  }
  REQUIRE(logs.rows() > 3);
  const Eigen::RowVectorXd mean = logs.colwise().mean();
  const MatrixXd apart = logs.rowwise() - mean;
  Eigen::Matrix2d covariance = apart.transpose() * apart / static_cast<double>(logs.rows() - 1);
  covariance(0, 0) += 0.01, covariance(1, 1) += 0.04;
  const Eigen::Vector2d weight = covariance.inverse() * Eigen::Vector2d::Ones();
  const auto found = checks::current_by_winding(designs, {ohm, reactance});
  CHECK(near_relative(found.log_current, weight.dot(mean.transpose()) / weight.sum(), 1e-9));
  CHECK(near_relative(found.log_uncertainty, 1.0 / std::sqrt(weight.sum()), 1e-9));
}

}  // namespace line_parts
