// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <random>

#include <Eigen/Cholesky>

#include <near.hpp>
#include <rewound/base/error.hpp>
#include <rewound/checks/fault_likelihood.hpp>
#include <simulation_size.hpp>

namespace checks = rewound::checks;
using checks::alternative;
using Eigen::MatrixXd;
using Eigen::VectorXd;
using rewound::testing::near_absolute;
using rewound::testing::near_relative;

namespace {

constexpr double pi = 3.14159265358979323846;

double upper_tail(double z) { return 0.5 * std::erfc(z / std::sqrt(2.0)); }

/// The density by its definition, wider part and all.
double mixture_density(double x, double mean, double deviation, double wider_probability) {
  const auto normal = [&](double spread) {
    const double z = (x - mean) / spread;
    return std::exp(-0.5 * z * z) / (spread * std::sqrt(2.0 * pi));
  };
  return (1.0 - wider_probability) * normal(deviation) + wider_probability * normal(1.6 * deviation);
}

/// One deviation of which twice its value is read; a healthy machine at 0, cause 1 at `shift`, in what is read.
checks::fault_likelihood_input one_value(double seen, double shift, double wider_probability = 0.0) {
  checks::fault_likelihood_input in;
  in.observed = {MatrixXd::Constant(1, 1, 2.0), VectorXd::Constant(1, seen), MatrixXd::Constant(1, 1, 0.36)};
  in.model.covariance = MatrixXd::Constant(1, 1, 0.16);  // 4 * 0.16 + 0.36 = 1
  in.model.wider_probability = wider_probability;
  in.model.healthy = {{0, 1.0, VectorXd::Zero(1)}};
  in.model.faulty = {{1, 1.0, VectorXd::Constant(1, shift / 2.0)}};
  in.model.causes = 3;
  return in;
}

/// Two designs, two causes of two severities, four values of three deviations.
checks::fault_likelihood_input several(const VectorXd& values) {
  checks::fault_likelihood_input in;
  in.observed.observation.resize(4, 3);
  in.observed.observation << 1, 0, 0, 1, -0.2, 0.1, 0, 1, 0, 0, 0.3, 1;
  in.observed.values = values;
  in.observed.noise = 0.02 * MatrixXd::Identity(4, 4) + MatrixXd::Constant(4, 4, 0.01);
  in.model.covariance.resize(3, 3);
  in.model.covariance << 0.5, 0.2, 0.0, 0.2, 0.4, -0.1, 0.0, -0.1, 0.3;
  in.model.wider_probability = 0.1;
  in.model.healthy = {{0, 1.0, Eigen::Vector3d(0.0, 0.0, 0.0)}, {0, 2.0, Eigen::Vector3d(0.1, -0.2, 0.05)}};
  in.model.faulty = {{1, 0.5, Eigen::Vector3d(1.5, 0.3, 0.0)},
                     {2, 1.5, Eigen::Vector3d(-0.4, 2.0, 1.0)},
                     {1, 0.7, Eigen::Vector3d(4.0, 0.9, -0.2)},
                     {2, 0.2, Eigen::Vector3d(-1.1, 5.0, 2.0)}};
  in.model.unknown = MatrixXd::Identity(3, 3);
  in.model.unknown_share = 0.1;
  in.model.causes = 4;
  return in;
}

VectorXd four_values() { return Eigen::Vector4d(0.9, 0.8, 0.4, 0.3); }

/// What a healthy machine of several() shows.
VectorXd drawn_healthy(const checks::fault_likelihood_input& in, std::mt19937& random) {
  std::normal_distribution<double> normal;
  std::uniform_real_distribution<double> uniform;
  const auto& o = in.observed.observation;
  const MatrixXd root = MatrixXd(o * in.model.covariance * o.transpose() + in.observed.noise).llt().matrixL();
  VectorXd away(o.rows());
  for (auto& each : away) each = normal(random);
  if (uniform(random) < in.model.wider_probability) away *= 1.6;
  double total = 0.0;
  for (const auto& each : in.model.healthy) total += each.weight;
  double left = total * uniform(random);
  std::size_t which = 0;
  while (which + 1 < in.model.healthy.size() && (left -= in.model.healthy[which].weight) > 0.0) ++which;
  return o * in.model.healthy[which].mean + root * away;
}

/// Checks that of many healthy machines about 1 and 5 of 100 have a p-value of at most 0.01 and 0.05.
void check_coverage(checks::fault_likelihood_input in, std::mt19937& random) {
  constexpr int machines = rewound::testing::simulated(2000);
  int one = 0;
  int five = 0;
  for (int i = 0; i < machines; ++i) {
    in.observed.values = drawn_healthy(in, random);
    const double p = checks::fault_likelihood(in).p_value;
    one += p <= 0.01 ? 1 : 0;
    five += p <= 0.05 ? 1 : 0;
  }
  MESSAGE("p at most 0.01: " << one << ", at most 0.05: " << five << " of " << machines);
  // 600 draws put the limits themselves off by a third and by a fifth, one standard deviation.
  constexpr double slack = rewound::testing::simulation_slack;
  CHECK(one >= (0.003 - slack) * machines);
  CHECK(one <= (0.02 + slack) * machines);
  CHECK(five >= (0.03 - slack) * machines);
  CHECK(five <= (0.07 + slack) * machines);
}

}  // namespace

TEST_CASE("one healthy and one faulty alternative of one value: the ratio of two normal densities") {
  for (const double wider : {0.0, 0.05, 0.3})
    for (const double seen : {-3.0, 0.0, 0.7, 2.0, 6.0}) {
      CAPTURE(wider);
      CAPTURE(seen);
      const double shift = 2.5;
      const double by_hand =
          std::log(mixture_density(seen, shift, 1.0, wider) / mixture_density(seen, 0.0, 1.0, wider));
      const auto found = checks::fault_likelihood(one_value(seen, shift, wider));
      CHECK(near_absolute(found.log_ratio, by_hand, 1e-12));
      CHECK(near_absolute(found.log_evidence[1], by_hand, 1e-12));
      if (wider == 0.0) CHECK(near_absolute(found.log_ratio, shift * seen - 0.5 * shift * shift, 1e-12));
    }
}

TEST_CASE("a cause's evidence is its alternatives' average by weight, and no cause is worth another's") {
  auto in = one_value(1.2, 2.0, 0.1);
  in.model.faulty.push_back({1, 3.0, VectorXd::Constant(1, -0.5)});
  in.model.faulty.push_back({2, 4.0, VectorXd::Constant(1, 0.4)});
  in.model.healthy.push_back({0, 3.0, VectorXd::Constant(1, 0.1)});
  const auto at = [](double mean) { return mixture_density(1.2, mean, 1.0, 0.1); };
  const double healthy = 0.25 * at(0.0) + 0.75 * at(0.2);
  const auto found = checks::fault_likelihood(in);
  CHECK(near_absolute(found.log_evidence[1], std::log((0.25 * at(2.0) + 0.75 * at(-1.0)) / healthy), 1e-12));
  CHECK(near_absolute(found.log_evidence[2], std::log(at(0.8) / healthy), 1e-12));
  CHECK(near_absolute(found.log_ratio, std::log((at(2.0) + 3.0 * at(-1.0) + 4.0 * at(0.8)) / 8.0 / healthy), 1e-12));
}

TEST_CASE("a cause without alternative has no evidence at all") {
  const auto found = checks::fault_likelihood(one_value(1.0, 2.0));
  REQUIRE(found.log_evidence.size() == 3);
  CHECK(found.log_evidence[0] == -std::numeric_limits<double>::infinity());
  CHECK(found.log_evidence[2] == -std::numeric_limits<double>::infinity());
}

TEST_CASE("the p-value of one faulty alternative is the tail of the normal distribution") {
  // The ratio rises with the value, so machines at least as faulty are those that read as much or more. Beyond the
  // highest tenth the tail is an exponential through it: of a normal one at most 10 % off down to 1 %, above it further
  // out.
  constexpr int draws = rewound::testing::simulated(20000);
  for (const double shift : {0.7, 2.0, 5.0})
    for (const double z : {-1.5, -0.5, 0.0, 0.5, 1.0, 1.2, 1.645, 2.0, 2.326, 3.0, 8.0}) {
      CAPTURE(shift);
      CAPTURE(z);
      auto in = one_value(z, shift);
      in.draws = draws;
      const auto found = checks::fault_likelihood(in);
      const double exact = upper_tail(z);
      if (z < 1.25) CHECK(near_absolute(found.p_value, exact, 4.0 * std::sqrt(exact * (1.0 - exact) / draws)));
      else if (z < 2.5) CHECK(near_relative(found.p_value, exact, 0.16 + 2.0 * rewound::testing::simulation_slack));
      else {
        CHECK(found.p_value >= exact);
        CHECK(found.p_value <= std::exp(-found.log_ratio));
      }
    }
}

TEST_CASE("healthy machines have a p-value of at most 1 and 5 percent about as often as it says") {
  std::mt19937 random(20268);
  SUBCASE("several designs and causes, wider spreads, unknown faults") {
    check_coverage(several(four_values()), random);
  }
  SUBCASE("one cause near health") { check_coverage(one_value(0.0, 1.0), random); }
  SUBCASE("one cause far from health") { check_coverage(one_value(0.0, 5.0), random); }
  SUBCASE("one cause very far from health") { check_coverage(one_value(0.0, 12.0), random); }
}

TEST_CASE("the same readings in other units or combinations tell the same") {
  const auto in = several(four_values());
  const auto before = checks::fault_likelihood(in);
  MatrixXd lower(4, 4);
  lower << 2, 0, 0, 0, -1, 0.5, 0, 0, 0.3, 0.2, 7, 0, 1, 1, 1, 0.01;
  MatrixXd full = lower;
  full(0, 3) = 0.02;
  full(1, 2) = -3.0;
  for (const MatrixXd& map : {lower, full}) {
    auto mapped = in;
    mapped.observed = {map * in.observed.observation, map * in.observed.values,
                       map * in.observed.noise * map.transpose()};
    const auto after = checks::fault_likelihood(mapped);
    CHECK(near_absolute(after.log_ratio, before.log_ratio, 1e-9));
    for (const std::size_t cause : {1U, 2U})
      CHECK(near_absolute(after.log_evidence[cause], before.log_evidence[cause], 1e-9));
    CHECK(near_absolute(after.p_value, before.p_value, &map == &lower ? 1e-9 : 0.08));
  }
}

TEST_CASE("the order of the alternatives does not matter") {
  auto in = several(four_values());
  const auto before = checks::fault_likelihood(in);
  std::reverse(in.model.faulty.begin(), in.model.faulty.end());
  const auto after = checks::fault_likelihood(in);
  CHECK(near_absolute(after.log_ratio, before.log_ratio, 1e-12));
  CHECK(near_absolute(after.p_value, before.p_value, 1e-12));
  for (const std::size_t cause : {1U, 2U})
    CHECK(near_absolute(after.log_evidence[cause], before.log_evidence[cause], 1e-12));
}

TEST_CASE("an unknown fault weighs as the broader normal density, and catches what no alternative has") {
  auto in = one_value(5.0, -3.0);
  const auto blind = checks::fault_likelihood(in);
  CHECK(blind.p_value > 0.9);
  CHECK(blind.log_ratio < -15.0);
  in.model.unknown = MatrixXd::Constant(1, 1, 2.0);  // 8 in what is read
  in.model.unknown_share = 0.2;
  const auto caught = checks::fault_likelihood(in);
  const double by_hand = (0.8 * mixture_density(5.0, -3.0, 1.0, 0.0) + 0.2 * mixture_density(5.0, 0.0, 3.0, 0.0)) /
                         mixture_density(5.0, 0.0, 1.0, 0.0);
  CHECK(near_absolute(caught.log_ratio, std::log(by_hand), 1e-10));
  CHECK(caught.p_value < 1e-3);
  in.model.faulty.clear();
  const auto unknown_alone = checks::fault_likelihood(in);
  CHECK(near_absolute(unknown_alone.log_ratio,
                      std::log(mixture_density(5.0, 0.0, 3.0, 0.0) / mixture_density(5.0, 0.0, 1.0, 0.0)), 1e-10));
}

TEST_CASE("without any fault to weigh nothing speaks against a machine") {
  auto in = one_value(5.0, 1.0);
  in.model.faulty.clear();
  const auto found = checks::fault_likelihood(in);
  CHECK(found.log_ratio == 0.0);
  CHECK(found.p_value == 1.0);
}

TEST_CASE("a value far beyond every alternative stays finite") {
  for (const double wider : {0.0, 0.05}) {
    const auto found = checks::fault_likelihood(one_value(80.0, 60.0, wider));
    CHECK(std::isfinite(found.log_ratio));
    CHECK(found.log_ratio > 100.0);
    CHECK(found.p_value < 1e-40);
  }
}

TEST_CASE("what does not fit together is refused") {
  const auto refuses = [](auto change) {
    auto in = several(four_values());
    change(in);
    CHECK_THROWS_AS(checks::fault_likelihood(in), rewound::base::error);
  };
  refuses([](auto& in) { in.observed.values.resize(0); });
  refuses([](auto& in) { in.observed.values = VectorXd::Zero(3); });
  refuses([](auto& in) { in.observed.noise = MatrixXd::Identity(3, 3); });
  refuses([](auto& in) { in.observed.noise = MatrixXd::Ones(4, 3); });
  refuses([](auto& in) { in.observed.noise = MatrixXd::Identity(5, 5); });
  refuses([](auto& in) { in.observed.noise = MatrixXd::Identity(4, 5); });
  refuses([](auto& in) { in.observed.noise = MatrixXd::Identity(5, 4); });
  refuses([](auto& in) { in.observed.observation = MatrixXd::Ones(5, 3); });
  refuses([](auto& in) { in.model.healthy[0].mean = VectorXd::Zero(4); });
  refuses([](auto& in) { in.model.faulty[1].scatter = MatrixXd::Ones(4, 1); });
  refuses([](auto& in) { in.model.faulty[1].scatter = MatrixXd::Ones(2, 1); });
  refuses([](auto& in) {
    in.observed.values.resize(0);
    in.observed.observation.resize(0, 3);
    in.observed.noise.resize(0, 0);
  });
  refuses([](auto& in) { in.observed.observation = MatrixXd::Ones(4, 2); });
  refuses([](auto& in) { in.model.covariance = MatrixXd::Ones(3, 2); });
  refuses([](auto& in) { in.model.healthy.clear(); });
  refuses([](auto& in) { in.model.healthy[0].mean = VectorXd::Zero(2); });
  refuses([](auto& in) { in.model.faulty[1].mean = VectorXd::Zero(4); });
  refuses([](auto& in) { in.model.faulty[1].cause = 4; });
  refuses([](auto& in) { in.model.unknown.resize(0, 0); });
  refuses([](auto& in) { in.observed.noise = -MatrixXd::Identity(4, 4); });
  refuses([](auto& in) { in.observed.values[2] = std::nan(""); });
}
