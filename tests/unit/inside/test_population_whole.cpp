// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <random>
#include <vector>

#include <Eigen/Core>

#include <near.hpp>
#include <rewound/base/error.hpp>
#include <rewound/checks/design_population.hpp>

// Members of the population, what they show, and what a model is told by.
namespace population_whole {

namespace checks = rewound::checks;
namespace detail = rewound::checks::detail;
namespace machine = rewound::machine;
namespace record = rewound::record;
namespace units = rewound::units;
using Eigen::Index;
using Eigen::MatrixXd;
using machine::fault;
using rewound::fit::channel;
using rewound::testing::near_absolute;
using rewound::testing::near_relative;

checks::design_population_input capacitor_machines(std::vector<checks::parameter_spread> different) {
  checks::design_population_input out{{}, {{1, fault::shorted_turns, 0.01, 0.1}}, {}, std::move(different)};
  out.kind.circuit = record::running_circuit::permanent_capacitor;
  out.kind.control = record::speed_control::tapped_winding;
  out.kind.speeds = 2;
  out.members = 12;
  return out;
}

std::vector<checks::curve_probe> probes_of(std::size_t speeds) {
  std::vector<checks::curve_probe> out;
  for (std::size_t step = 0; step < speeds; ++step)
    out.push_back({step, {0.0, -0.1, -0.2}, {channel::current, channel::power, channel::rotation}});
  return out;
}

TEST_CASE("members are solved at 113, 100, 88, 76, 63 and 50 percent of the rated voltage") {
  const double percent[] = {112.7, 100.0, 87.8, 75.6, 63.1, 49.7};
  REQUIRE(detail::grid.size() == 6);
  for (std::size_t i = 0; i < 6; ++i) CHECK(near_absolute(100.0 * std::exp(detail::grid[i]), percent[i], 0.06));
}

TEST_CASE("members are drawn about the table's designs, each parameter within two deviations of its centre") {
  const auto plain = detail::drawn_members(capacitor_machines({}));
  const auto moved =
      detail::drawn_members(capacitor_machines({{"main_resistance", 0.02, 0.0, 0.05}, {"control", 5.0, 0.0, 5.0}}));
  REQUIRE(plain.size() == 12);
  REQUIRE(moved.size() == 12);
  double least = 1e9, most = -1e9;
  auto table_kind = capacitor_machines({}).kind;
  table_kind.rated_voltage_V = 230.0;
  const auto table = machine::fan_population(table_kind, {1.0, 1.0});
  for (const auto& each : moved) {
    CHECK(each.machine.rated_voltage_V == 230.0);
    double nearest = 1e9;
    for (const auto& design : table) {
      const double off = std::log(each.machine.main_resistance_ohm / design.machine.main_resistance_ohm);
      if (near_relative(each.machine.main_leakage_ohm, design.machine.main_leakage_ohm, 1e-9) &&
          near_relative(each.machine.magnetising_ohm, design.machine.magnetising_ohm, 1e-9))
        nearest = off;
    }
    REQUIRE(nearest < 1e9);
    CHECK(nearest >= 0.05 - 0.04 - 1e-9);
    CHECK(nearest <= 0.05 + 0.04 + 1e-9);
    least = std::min(least, nearest), most = std::max(most, nearest);
  }
  CHECK(least < 0.05);
  CHECK(most > 0.05);
}

TEST_CASE("a member shows amperes over its scale, watts over volt-amperes, rpm over synchronism, and its ohms") {
  const auto design = detail::drawn_members(capacitor_machines({})).front();
  const auto& m = design.machine;
  constexpr double log_scale = -0.7;
  const auto shown = detail::solve_member(design, {}, log_scale, detail::grid.size());
  REQUIRE(shown.values.size() == 2 * 18 + 2);
  for (std::size_t speed = 0; speed < 2; ++speed)
    for (std::size_t node = 0; node < 4; ++node) {
      const auto at = machine::running_point_when_turning(
          design, speed, units::volts(m.rated_voltage_V * std::exp(detail::grid[node])));
      if (at.state != machine::running_state::runs) continue;
      const auto column = static_cast<Index>(18 * speed + node);
      const double amperes = units::in_amperes(at.line_current), watts = units::in_watts(at.input);
      const double rpm = units::in_rpm(at.speed);
      CHECK(near_absolute(shown.values[column], std::log(amperes) + 0.7, 1e-6));
      CHECK(near_absolute(shown.values[column + 6], std::log(watts / m.rated_voltage_V) + 0.7, 1e-6));
      CHECK(near_absolute(shown.values[column + 12], std::log(rpm * m.poles / (120.0 * m.rated_frequency_Hz)), 1e-6));
      CHECK(shown.runs[static_cast<Index>(6 * speed + node)] == 1.0);
    }
  CHECK(near_relative(shown.values[36], std::log(m.main_resistance_ohm), 1e-9));
  const auto shorted = machine::apply_fault(design, fault::shorted_turns, 0.1);
  const auto less = detail::solve_member(shorted, {}, log_scale, 2);
  CHECK(less.values[36] < shown.values[36]);
}

TEST_CASE("a block is told by the fastest speed's channels and its own speed's, the scale left out") {
  const checks::solved_population none;
  std::vector<bool> known(9, true);
  const auto told_by = [&](std::size_t block) {
    const checks::population_regression_input in{none, probes_of(3), known};
    return detail::population_view(in).features_of(block);
  };
  using columns = std::vector<Index>;
  // Three coefficients a channel. The fastest speed's current has no level: all is relative to it.
  for (const auto of_fastest : {0U, 1U, 2U}) CHECK(told_by(of_fastest) == columns{1, 2, 3, 4, 6, 7});
  for (const auto of_slowest : {6U, 7U, 8U})
    CHECK(told_by(of_slowest) == columns{1, 2, 3, 4, 6, 7, 18, 19, 20, 21, 22, 24, 25});
  known[1] = known[6] = false;
  CHECK(told_by(6) == columns{1, 2, 6, 7, 21, 22, 24, 25});
  CHECK(told_by(4) == columns{1, 2, 6, 7, 9, 10, 11, 12, 13, 15, 16});
}

TEST_CASE("a population without speeds or members is refused") {
  auto in = capacitor_machines({});
  in.members = 0;
  CHECK_THROWS_AS(checks::solve_population(in), rewound::base::error);
  in = capacitor_machines({});
  in.kind.speeds = 0;
  CHECK_THROWS_AS(checks::solve_population(in), rewound::base::error);
}

TEST_CASE("a square matrix has as many rows and columns as are asked for, no fewer and no more") {
  CHECK_NOTHROW(detail::expect_square(MatrixXd(2, 2), 2, "matrix", "two of both"));
  for (const auto& [rows, columns] : {std::pair{1, 2}, {2, 1}, {3, 2}, {2, 3}, {3, 3}, {1, 1}})
    CHECK_THROWS_AS(detail::expect_square(MatrixXd(rows, columns), 2, "matrix", "two of both"), rewound::base::error);
}

/// Twenty members of drawn values, two speeds, two faults of three severities; all run unless said otherwise.
checks::solved_population drawn_population() {
  std::mt19937 random(71);
  std::normal_distribution<double> normal;
  const auto values = [&](double size) {
    return MatrixXd(MatrixXd::NullaryExpr(20, 2 * 18 + 2, [&] { return size * normal(random); }));
  };
  checks::solved_population out;
  out.speeds = 2;
  out.faults = {{3, fault::shorted_turns, 0.01, 0.1}, {5, fault::tight_bearing, 0.1, 1.0}};
  out.healthy = values(0.3);
  out.healthy_runs = MatrixXd::Ones(20, 12);
  for (std::size_t i = 0; i < 2; ++i)
    for (const double severity : {0.01, 0.03, 0.1}) {
      out.fault_states.push_back({i, severity});
      out.fault.push_back(values(severity));
      out.fault_runs.push_back(MatrixXd::Ones(20, 12));
    }
  return out;
}

TEST_CASE("sixteen members that run are the fewest to tell anything, and of a fault, that run with it as well") {
  auto population = drawn_population();
  const auto regressed = [&] {
    return checks::regress_population({population, probes_of(2), std::vector<bool>(6, true)});
  };
  CHECK(regressed().values.size() == 20);
  CHECK(regressed().possible == std::vector<bool>(6, true));
  population.fault_runs[1].topRows(4).setZero();
  population.fault_runs[2].topRows(5).setZero();
  CHECK(regressed().possible == std::vector<bool>{true, true, false, true, true, true});
  // Those that do not run when healthy run with no fault.
  population.healthy_runs.topRows(2).setZero();
  population.fault_runs[3].middleRows(2, 2).setZero();
  population.fault_runs[4].middleRows(2, 3).setZero();
  CHECK(regressed().possible == std::vector<bool>{true, true, false, true, false, true});
  CHECK(regressed().values.size() == 18);
  population.healthy_runs.topRows(4).setZero();
  CHECK(regressed().blocks.size() == 6);
  population.healthy_runs.topRows(5).setZero();
  CHECK(regressed().blocks.empty());
}

TEST_CASE("each fault is weighed at six severities over those that were solved of it, and none of the others") {
  const auto population = drawn_population();
  const auto regression = checks::regress_population({population, probes_of(2), std::vector<bool>(6, true)});
  const Eigen::VectorXd model = Eigen::VectorXd::Zero(18);
  const auto found = checks::predict_signatures(regression, {model, model});
  REQUIRE(found.signatures.faulty.size() == 12);
  for (std::size_t i = 0; i < 12; ++i) {
    CHECK(found.signatures.faulty[i].cause == (i < 6 ? 3 : 5));
    CHECK(near_relative(found.signatures.faulty[i].weight, 1.0 / 6.0, 1e-12));
  }
}

}  // namespace population_whole
