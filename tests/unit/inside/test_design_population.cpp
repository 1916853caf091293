// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <cmath>
#include <random>

#include <Eigen/Eigenvalues>

#include <near.hpp>
#include <rewound/checks/design_population.hpp>
#include <simulation_size.hpp>

namespace checks = rewound::checks;
namespace machine = rewound::machine;
using Eigen::MatrixXd;
using Eigen::VectorXd;
using machine::fault;
using rewound::fit::channel;
using rewound::testing::near_absolute;
using rewound::testing::near_relative;

namespace {

checks::design_population_input capacitor_fans(double lowest_log_x = -0.7) {
  checks::design_population_input out{{},
                                      {{1, fault::shorted_turns, 0.01, 0.1},
                                       {2, fault::tight_bearing, 0.08, 1.0},
                                       {3, fault::weak_capacitor, 0.1, 0.7}},
                                      checks::healthy_spreads(),
                                      checks::population_spreads(),
                                      lowest_log_x};
  out.kind.circuit = rewound::record::running_circuit::permanent_capacitor;
  out.kind.control = rewound::record::speed_control::tapped_winding;
  out.kind.speeds = 3;
  return out;
}

std::vector<checks::curve_probe> two_speeds() {
  std::vector<checks::curve_probe> out;
  for (std::size_t step = 0; step < 2; ++step)
    out.push_back({step, {0.0, std::log(0.9), std::log(0.8)}, {channel::current, channel::power, channel::rotation}});
  return out;
}

/// A unit as reference/machines/healthy_spread.table draws it.
machine::fan_design drawn_unit(const machine::fan_design& model, std::mt19937& random) {
  std::normal_distribution<double> normal;
  auto unit = model;
  for (const auto& spread : checks::healthy_spreads())
    unit = machine::moved_by_name(unit, spread.parameter, spread.spread * normal(random));
  return unit;
}

/// Coefficients of ln of what a unit shows, as the population has them.
VectorXd shown_by(const machine::fan_design& unit) {
  return checks::detail::coefficients_of(checks::detail::solve_probes(unit, two_speeds()).values, two_speeds());
}

}  // namespace

TEST_CASE("a population looked at from some voltage up is the same there as one solved further down") {
  const auto whole = checks::solve_population(capacitor_fans());
  const auto upper = checks::solve_population(capacitor_fans(-0.28));
  REQUIRE(whole.healthy.rows() == upper.healthy.rows());
  const auto far = checks::regress_population({whole, two_speeds(), std::vector<bool>(6, true)});
  const auto near = checks::regress_population({upper, two_speeds(), std::vector<bool>(6, true)});
  REQUIRE(far.blocks.size() == 6);
  for (std::size_t b = 0; b < 6; ++b) CHECK((far.blocks[b].map - near.blocks[b].map).cwiseAbs().maxCoeff() == 0.0);
  CHECK((upper.healthy.col(4).array() == 0.0).all());  // amperes of the fastest speed at ln x -0.46
  CHECK((upper.healthy_runs.col(4).array() == 0.0).all());
}

TEST_CASE("what the population says of how good machines differ is near what units drawn about a design do") {
  const auto in = capacitor_fans();
  const auto population = checks::solve_population(in);
  const auto regression = checks::regress_population({population, two_speeds(), std::vector<bool>(6, true)});
  const auto members = checks::detail::drawn_members(in);
  REQUIRE(members.size() == static_cast<std::size_t>(population.healthy.rows()));
  std::mt19937 random(20269);
  const int units = rewound::testing::simulated(300);
  double sum = 0.0;
  int compared = 0;
  for (const std::size_t which : {3u, 12u, 30u, 44u, 71u, 95u}) {
    const auto& model = members[which];
    const VectorXd values = regression.values[which];
    const auto found = checks::predict_signatures(regression, {values, VectorXd::Zero(values.size())});
    const MatrixXd& covariance = found.signatures.healthy_covariance;
    CHECK((covariance - covariance.transpose()).cwiseAbs().maxCoeff() < 1e-15);
    CHECK(Eigen::SelfAdjointEigenSolver<MatrixXd>(covariance).eigenvalues().minCoeff() > 0.0);
    const VectorXd shown = shown_by(model);
    VectorXd square = VectorXd::Zero(values.size());
    for (int i = 0; i < units; ++i) square += (shown_by(drawn_unit(model, random)) - shown).array().square().matrix();
    constexpr double own_level = 0.003;               // what a unit has beyond its parameters
    for (const Eigen::Index level : {0, 3, 9, 12}) {  // amperes and watts of two speeds
      const double own =
          own_level * rewound::fit::spread_over_current(level % 9 == 0 ? channel::current : channel::power);
      const double drawn = std::sqrt(square[level] / units + own * own);
      const double ratio = std::sqrt(covariance(level, level)) / drawn;
      CAPTURE(which);
      CAPTURE(level);
      CHECK(ratio > 0.6 - 2.0 * rewound::testing::simulation_slack);
      CHECK(ratio < 1.6 + 4.0 * rewound::testing::simulation_slack);
      sum += std::log(ratio);
      ++compared;
    }
  }
  CHECK(near_absolute(sum / compared, 0.0, 0.15 + rewound::testing::simulation_slack));
}

TEST_CASE("whatever the model, shorted turns take amperes and watts; nearly always a tight bearing costs speed") {
  const auto population = checks::solve_population(capacitor_fans());
  const auto regression = checks::regress_population({population, two_speeds(), std::vector<bool>(6, true)});
  int tight = 0, slower = 0;
  for (const auto& values : regression.values) {
    const auto found = checks::predict_signatures(regression, {values, VectorXd::Zero(values.size())});
    for (const auto& each : found.signatures.faulty) {
      if (each.cause == 1) CHECK((each.mean[0] > 0.0 && each.mean[3] > 0.0));
      if (each.cause != 2) continue;
      ++tight;
      slower += each.mean[6] < 0.0 && each.mean[15] < 0.0;
    }
  }
  CHECK(tight > 100);
  CHECK(slower > 0.95 * tight);
}
