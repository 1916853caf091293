// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <cmath>
#include <random>

#include <Eigen/Eigenvalues>

#include <fan_machines.hpp>
#include <near.hpp>
#include <rewound/base/error.hpp>
#include <rewound/checks/detail/fault_signatures.hpp>
#include <rewound/machine/design_parameters.hpp>
#include <simulation_size.hpp>

namespace checks = rewound::checks;
namespace machine = rewound::machine;
using Eigen::MatrixXd;
using Eigen::VectorXd;
using machine::fault;
using rewound::fit::channel;
using rewound::testing::near_absolute;
using rewound::testing::near_relative;
using rewound::testing::tapped_fan;

namespace {

constexpr std::size_t tapped_speeds = 3;
enum : Eigen::Index { amperes = 0, watts = 3, rpm = 6, one_speed = 9 };  // levels of one speed's channels

std::vector<checks::curve_probe> nine_curves() {
  std::vector<checks::curve_probe> out;
  for (std::size_t step = 0; step < tapped_speeds; ++step)
    out.push_back(
        {step, {std::log(1.0), std::log(0.95), std::log(0.9)}, {channel::current, channel::power, channel::rotation}});
  return out;
}

checks::fault_signatures_input one_fan(std::vector<checks::weighed_fault> faults, double fan_share = 1.0) {
  auto design = tapped_fan();
  design.load.square_Nm_s2 *= fan_share;
  return {{design}, {1.0}, nine_curves(), std::move(faults), {}, 1.0, fan_share == 1.0};
}

/// The one signature of a fault at one severity.
VectorXd signature_of(fault what, double severity, double fan_share = 1.0) {
  const auto found = checks::fault_signatures(one_fan({{5, what, severity, severity}}, fan_share));
  REQUIRE(found.faulty.size() == 1);
  CHECK(found.faulty[0].cause == 5);
  return found.faulty[0].mean;
}

double level_at(const VectorXd& signature, std::size_t speed, Eigen::Index what) {
  return signature[one_speed * static_cast<Eigen::Index>(speed) + what];
}

/// ln of what a table's percentage is.
bool close_to_percent(double log_change, double percent, double allowed) {
  return std::abs(100.0 * std::expm1(log_change) - percent) <= allowed;
}

/// A unit as reference/machines/healthy_spread.table draws it.
machine::fan_design drawn_unit(const machine::fan_design& model, std::mt19937& random) {
  std::normal_distribution<double> normal;
  auto unit = model;
  for (const auto& row : machine::tables::healthy_spread) {
    const double by = row.spread * normal(random);
    if (row.parameter == "turns") {
      unit = machine::apply_fault(unit, by < 0.0 ? fault::too_few_turns : fault::too_many_turns, std::abs(by));
    } else if (row.parameter == "control") {
      for (std::size_t i = 1; i < unit.steps.size(); ++i) machine::move_step(unit.steps[i], by);
    } else {
      for (std::size_t i = 0; i < machine::design_parameter_count; ++i)
        if (machine::design_parameter_names[i] == row.parameter)
          machine::move_parameter(unit, static_cast<machine::design_parameter>(i), by);
    }
  }
  return unit;
}

}  // namespace

TEST_CASE("a signature is the change of ln value at the rated voltage that the fault makes") {
  const auto healthy = tapped_fan();
  const auto volts = rewound::units::volts(230.0);
  for (const auto what : {fault::shorted_turns, fault::too_few_turns, fault::tight_bearing, fault::rotor_fault}) {
    CAPTURE(machine::name(what));
    const auto signature = signature_of(what, 0.1);
    const auto faulty = machine::apply_fault(healthy, what, 0.1);
    for (std::size_t speed = 0; speed < tapped_speeds; ++speed) {
      const auto before = machine::running_point_when_turning(healthy, speed, volts);
      const auto after = machine::running_point_when_turning(faulty, speed, volts);
      CHECK(
          near_absolute(level_at(signature, speed, amperes), std::log(after.line_current / before.line_current), 1e-9));
      CHECK(near_absolute(level_at(signature, speed, watts), std::log(after.input / before.input), 1e-9));
      CHECK(near_absolute(level_at(signature, speed, rpm), std::log(after.speed / before.speed), 1e-9));
    }
  }
}

TEST_CASE("small faults have signatures in proportion to their severity") {
  for (const auto what : machine::all_faults) {
    if (what == fault::speed_leads_exchanged || what == fault::speed_section_open ||
        what == fault::start_winding_left_in)
      continue;
    CAPTURE(machine::name(what));
    const auto found = checks::fault_signatures(one_fan({{1, what, 1e-5, 1e-4}})).faulty;
    REQUIRE(found.size() == checks::detail::weighed_severities);
    double weight = 0.0;
    for (std::size_t i = 0; i < found.size(); ++i) {
      const double severity = 1e-5 * std::pow(10.0, static_cast<double>(i) / static_cast<double>(found.size() - 1));
      const VectorXd slope = found[i].mean / severity;
      const VectorXd last = found.back().mean / 1e-4;
      CHECK(slope.norm() > 0.1);
      CHECK((slope - last).norm() < 5e-3 * last.norm());
      weight += found[i].weight;
    }
    CHECK(near_relative(weight, 1.0, 1e-12));
  }
}

TEST_CASE("what lies between the severities that were solved is near what the model gives there") {
  const auto found = checks::fault_signatures(one_fan({{1, fault::shorted_turns, 0.015, 0.15}})).faulty;
  for (std::size_t i = 0; i < found.size(); ++i) {
    CAPTURE(i);
    const auto exact = signature_of(
        fault::shorted_turns, 0.015 * std::pow(10.0, static_cast<double>(i) / static_cast<double>(found.size() - 1)));
    for (std::size_t speed = 0; speed < tapped_speeds; ++speed)
      CHECK(near_relative(level_at(found[i].mean, speed, amperes), level_at(exact, speed, amperes), 0.15));
  }
}

// Model A with speeds of 0, 0.3 and 0.8 speed turns: changes that were worked out apart from this model (double
// revolving fields, illustrative), so directions and orders of magnitude.
TEST_CASE("shorted turns: amperes up, watts up more, ohms down by the share") {
  for (const double fan : {1.0, 0.02}) {
    const auto signature = signature_of(fault::shorted_turns, 0.03, fan);
    for (std::size_t speed = 0; speed < tapped_speeds; ++speed) {
      CAPTURE(fan);
      CAPTURE(speed);
      CHECK(level_at(signature, speed, amperes) > 0.05);
      CHECK(level_at(signature, speed, watts) > level_at(signature, speed, amperes));
      CHECK(std::abs(level_at(signature, speed, rpm)) < 0.01);
    }
    CHECK(near_absolute(signature[27], std::log(0.97), 1e-12));
    CHECK(near_absolute(signature[28], 0.0, 1e-12));
  }
  const auto with_fan = signature_of(fault::shorted_turns, 0.03);
  const double percent[] = {15, 13, 9};
  for (std::size_t speed = 0; speed < tapped_speeds; ++speed)
    CHECK(close_to_percent(level_at(with_fan, speed, amperes), percent[speed], 5.0));
}

TEST_CASE("a weak capacitor on a bare shaft: watts down, amperes nearly blind, rpm down") {
  const auto signature = signature_of(fault::weak_capacitor, 0.2, 0.02);
  const double percent[] = {-19, -26, -30};
  for (std::size_t speed = 0; speed < tapped_speeds; ++speed) {
    CAPTURE(speed);
    CHECK(close_to_percent(level_at(signature, speed, watts), percent[speed], 6.0));
    CHECK(std::abs(level_at(signature, speed, amperes)) < 0.12);
    CHECK(level_at(signature, speed, rpm) < 0.0);
  }
  CHECK(signature.tail(2).isZero());
}

TEST_CASE("a tight bearing: rpm down on every speed, most on the slowest; on a bare shaft watts up") {
  const auto signature = signature_of(fault::tight_bearing, 0.1);
  for (std::size_t speed = 0; speed < tapped_speeds; ++speed) CHECK(level_at(signature, speed, rpm) < -0.01);
  CHECK(level_at(signature, 2, rpm) < level_at(signature, 1, rpm));
  CHECK(level_at(signature, 1, rpm) < level_at(signature, 0, rpm));
  const auto bare = signature_of(fault::tight_bearing, 0.1, 0.02);
  const double percent[] = {6, 14, 28};
  for (std::size_t speed = 0; speed < tapped_speeds; ++speed)
    CHECK(close_to_percent(level_at(bare, speed, watts), percent[speed], 6.0));
  CHECK(signature.tail(2).isZero());
}

TEST_CASE("a design that stalls with its fan on has no bearing weighed, and does not throw") {
  auto in = one_fan({{1, fault::tight_bearing, 0.1, 1.0}, {2, fault::rotor_fault, 0.2, 0.2}});
  in.designs[0].load.square_Nm_s2 *= 1e3;
  in.designs[0].load.friction_Nm *= 1e2;
  const auto found = checks::fault_signatures(in);
  REQUIRE(found.faulty.size() == 1);
  CHECK(found.faulty[0].cause == 2);
}

TEST_CASE("too few turns: amperes up, ohms down with the turns; a rotor of more ohms runs slower") {
  const auto few = signature_of(fault::too_few_turns, 0.1, 0.02);
  const double percent[] = {43, 43, 37};
  for (std::size_t speed = 0; speed < tapped_speeds; ++speed)
    CHECK(close_to_percent(level_at(few, speed, amperes), percent[speed], 10.0));
  CHECK(near_absolute(few[27], std::log(0.9), 1e-12));
  CHECK(near_absolute(few[28], std::log(0.9), 1e-12));
  const auto rotor = signature_of(fault::rotor_fault, 0.3);
  for (std::size_t speed = 0; speed < tapped_speeds; ++speed) CHECK(level_at(rotor, speed, rpm) < 0.0);
}

TEST_CASE("wire too thin or too thick: ohms by the logarithm of one and the severity, exactly") {
  for (const double s : {0.12, 0.26, 0.6}) {
    const auto thin = signature_of(fault::wire_too_thin, s);
    const auto thick = signature_of(fault::wire_too_thick, s);
    for (const Eigen::Index winding : {27, 28}) {
      CHECK(near_absolute(thin[winding], std::log(1.0 + s), 1e-12));
      CHECK(near_absolute(thick[winding], -std::log(1.0 + s), 1e-12));
    }
  }
}

TEST_CASE("exchanged leads exchange the two speeds' curves and nothing else") {
  for (const int first : {1, 2}) {
    CAPTURE(first);
    const auto found =
        checks::fault_signatures(one_fan({{2, fault::speed_leads_exchanged, double(first), double(first)}}));
    const VectorXd faulty = found.healthy_values[0] + found.faulty[0].mean;
    for (Eigen::Index speed = 0; speed < 3; ++speed) {
      const Eigen::Index shows = speed == first - 1 ? first : speed == first ? first - 1 : speed;
      for (Eigen::Index k = 0; k < one_speed; ++k)
        CHECK(near_absolute(faulty[one_speed * speed + k], found.healthy_values[0][one_speed * shows + k], 1e-9));
    }
    CHECK(found.faulty[0].mean.tail(2).isZero());
  }
}

TEST_CASE("faults that a design cannot have are left out, and weights go to designs") {
  auto in = one_fan({{1, fault::start_winding_left_in, 1.0, 1.0}, {2, fault::wire_too_thin, 0.2, 0.2}});
  in.designs.push_back(in.designs[0]);
  in.designs[1].machine.main_resistance_ohm *= 1.2;
  in.weights = {0.7, 0.3};
  const auto found = checks::fault_signatures(in);
  REQUIRE(found.faulty.size() == 2);
  CHECK(found.faulty[0].weight == 0.7);
  CHECK(found.faulty[1].weight == 0.3);
  CHECK(found.faulty[1].design == 1);
  CHECK(near_absolute(found.healthy_values[1][27] - found.healthy_values[0][27], std::log(1.2), 1e-12));
}

TEST_CASE("good machines' covariance is symmetric, positive definite and near that of units drawn by the table") {
  auto in = one_fan({});
  in.probes.pop_back();  // the slowest speed comes near a stall
  for (auto& probe : in.probes) probe.log_x = {0.0, std::log(0.85), std::log(0.7)};
  in.spreads = checks::healthy_spreads();
  const auto found = checks::fault_signatures(in);
  const MatrixXd& covariance = found.healthy_covariance;
  const Eigen::Index n = covariance.rows();
  REQUIRE(n == 20);
  CHECK((covariance - covariance.transpose()).cwiseAbs().maxCoeff() < 1e-15);
  CHECK(Eigen::SelfAdjointEigenSolver<MatrixXd>(covariance).eigenvalues().minCoeff() > 0.0);

  std::mt19937 random(20269);
  std::normal_distribution<double> normal;
  constexpr int units = rewound::testing::simulated(400);
  MatrixXd drawn(units, n);
  const VectorXd shown = checks::detail::shown_by(in.designs[0], in.probes).shown;
  for (int i = 0; i < units; ++i) {
    const auto unit = drawn_unit(in.designs[0], random);
    VectorXd own(n);  // what a unit has beyond its parameters: level, slope, curvature; ohms
    for (Eigen::Index block = 0; block < 6; ++block) {
      const double factor = block % 3 == 0 ? 1.0 : block % 3 == 1 ? 1.5 : 0.5;
      own.segment(3 * block, 3) = factor * Eigen::Vector3d(0.006, 0.02, 0.04);
    }
    own.tail(2).setConstant(0.005);
    for (auto& each : own) each *= normal(random);
    drawn.row(i) =
        (checks::detail::deviation_of(checks::detail::shown_by(unit, in.probes).shown, shown, in.probes) + own)
            .transpose();
  }
  const MatrixXd centred = drawn.rowwise() - drawn.colwise().mean();
  const MatrixXd sample = centred.transpose() * centred / (units - 1);
  const double allowed = 0.15 + 6.0 * rewound::testing::simulation_slack;
  for (Eigen::Index i = 0; i < n; ++i) {
    CAPTURE(i);
    CHECK(near_relative(std::sqrt(covariance(i, i)), std::sqrt(sample(i, i)), allowed));
    for (Eigen::Index j = 0; j < i; ++j) {
      const double correlation = covariance(i, j) / std::sqrt(covariance(i, i) * covariance(j, j));
      const double drawn_one = sample(i, j) / std::sqrt(sample(i, i) * sample(j, j));
      CHECK(near_absolute(correlation, drawn_one, 0.2 + 4.0 * rewound::testing::simulation_slack));
    }
  }
}

TEST_CASE("designs that miss more are held to spread more") {
  auto in = one_fan({});
  in.spreads = checks::healthy_spreads();
  const auto once = checks::fault_signatures(in).healthy_covariance;
  in.misfit = 4.0;
  const MatrixXd more = checks::fault_signatures(in).healthy_covariance - once;
  CHECK(near_absolute(more(0, 0), 3.0 * 0.006 * 0.006, 1e-12));
  CHECK(near_absolute(more(4, 4), 3.0 * 0.03 * 0.03, 1e-12));
  CHECK(near_absolute(more(0, 4), 0.0, 1e-15));
}

TEST_CASE("no designs, or other numbers of weights, are refused") {
  auto in = one_fan({});
  in.weights = {0.5, 0.5};
  CHECK_THROWS_AS(checks::fault_signatures(in), rewound::base::error);
  in.designs.clear();
  in.weights.clear();
  CHECK_THROWS_AS(checks::fault_signatures(in), rewound::base::error);
}
