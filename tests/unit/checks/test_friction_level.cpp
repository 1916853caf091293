// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <cmath>
#include <random>

#include <near.hpp>
#include <rewound/base/error.hpp>
#include <rewound/checks/friction_level.hpp>
#include <rewound/measurement/distribution.hpp>
#include <simulation_size.hpp>

namespace checks = rewound::checks;
using rewound::testing::near_absolute;
using rewound::testing::near_relative;

namespace {

constexpr double compare_speed = 140.0;  // rad/s
constexpr double friction_slack = rewound::testing::simulation_slack;

/// A machine whose total at that speed is 10 rad/s2: 2 constant, 1 linear, 7 quadratic, each times a factor.
checks::machine_friction friction_of(double constant = 1.0, double linear = 1.0, double quadratic = 1.0,
                                     double u_percent = 1.0) {
  checks::machine_friction out{
      {2.0 * constant, 1.0 * linear / compare_speed, 7.0 * quadratic / (compare_speed * compare_speed)}};
  const double u = u_percent / 100.0 * 10.0;
  out.covariance.diagonal() << u * u, u * u / (compare_speed * compare_speed), u * u / std::pow(compare_speed, 4);
  return out;
}

checks::friction_level_input beside_good(const std::vector<checks::machine_friction>& good,
                                         const checks::machine_friction& now) {
  return {good, checks::decelerations_at(now, compare_speed), compare_speed, 0.15, 0.12, 8.0, 0.01};
}

/// A good machine of the simulation: all friction spreads by 12 % in common and the constant term by 30 % of itself.
checks::machine_friction healthy_friction(std::mt19937& random, double constant = 1.0) {
  std::normal_distribution<double> normal;
  const double common = std::exp(0.12 * normal(random));
  auto out = friction_of(constant * common * std::exp(0.3 * normal(random)), common, common);
  for (std::size_t k = 0; k < 3; ++k)
    out.terms[k] = std::max(
        0.0, out.terms[k] + std::sqrt(out.covariance(static_cast<int>(k), static_cast<int>(k))) * normal(random));
  return out;
}

}  // namespace

TEST_CASE("decelerations at a speed are the terms times its powers, the total's variance that of the sum") {
  auto one = friction_of();
  one.covariance(0, 1) = one.covariance(1, 0) = -0.5 * std::sqrt(one.covariance(0, 0) * one.covariance(1, 1));
  const auto told = checks::decelerations_at(one, compare_speed);
  const double values[] = {10.0, 2.0, 1.0, 7.0};
  for (std::size_t k = 0; k < 4; ++k) CHECK(near_relative(told[k].value, values[k], 1e-12));
  CHECK(near_relative(told[0].standard_uncertainty, 0.1 * std::sqrt(2.0), 1e-12));  // 3 - 2 * 0.5 variances of 0.1
  CHECK(near_relative(told[3].standard_uncertainty, 0.1, 1e-12));
}

TEST_CASE("beside one good machine the limit is the prior's spread of two machines and the good one's own error") {
  // By hand: z(1 - 0.01 / 4) sqrt(2 spread^2 + u^2).
  const auto found = checks::friction_level(beside_good({friction_of()}, friction_of(2.0)));
  const double z = rewound::measurement::normal_quantile(0.9975);
  const double u_total = 0.01 * std::sqrt(3.0);
  CHECK(near_relative(found.expected, 10.0, 1e-6));
  CHECK(near_relative(found.excess[0].limit, z * std::sqrt(2 * 0.15 * 0.15 + u_total * u_total), 1e-3));
  CHECK(near_relative(found.excess[1].limit, z * std::sqrt(2 * 0.12 * 0.12 + 0.01 * 0.01), 1e-3));
  CHECK(near_absolute(found.excess[0].value, 0.2, 1e-6));
  CHECK(near_absolute(found.excess[1].value, 0.2, 1e-6));
  CHECK(near_absolute(found.excess[2].value, 0.0, 1e-6));
  CHECK(near_absolute(found.excess[3].value, 0.0, 1e-6));
  CHECK(near_relative(found.excess[1].standard_uncertainty, 0.01, 1e-6));
}

TEST_CASE("many alike machines narrow the limit below the prior's, and widely spread ones widen it") {
  std::vector<checks::machine_friction> alike;
  std::vector<checks::machine_friction> spread;
  for (int i = 0; i < 40; ++i) {
    alike.push_back(friction_of(1.0 + 0.02 * (i % 2 == 0 ? 1 : -1), 1.0, 1.0));
    spread.push_back(friction_of(1.0, 1.0, 1.0 + 0.6 * (i % 2 == 0 ? 1 : -1)));
  }
  const double prior = checks::friction_level(beside_good({friction_of()}, friction_of())).excess[0].limit;
  CHECK(checks::friction_level(beside_good(alike, friction_of())).excess[0].limit < 0.5 * prior);
  CHECK(checks::friction_level(beside_good(spread, friction_of())).excess[0].limit > 1.5 * prior);
}

TEST_CASE(
    "good machines are called odd less than 1.5 times of 100, and a bearing of four times its friction is found") {
  std::mt19937 random(20267);
  constexpr int fans = rewound::testing::simulated(400);
  for (const int known : {1, 5, 20}) {
    int alarms = 0;
    int found = 0;
    int named = 0;
    for (int i = 0; i < fans; ++i) {
      std::vector<checks::machine_friction> good;
      for (int k = 0; k < known; ++k) good.push_back(healthy_friction(random));
      const auto over = [](const checks::friction_excess& one) { return one.value > one.limit; };
      const auto clean = checks::friction_level(beside_good(good, healthy_friction(random))).excess;
      const auto worn = checks::friction_level(beside_good(good, healthy_friction(random, 4.0))).excess;
      alarms += over(clean[0]) || over(clean[1]) || over(clean[2]) || over(clean[3]) ? 1 : 0;
      found += over(worn[0]) || over(worn[1]) ? 1 : 0;
      named += over(worn[1]) && !over(worn[2]) && !over(worn[3]) ? 1 : 0;
    }
    MESSAGE(known << " good machines: alarms " << alarms << ", found " << found << ", named " << named << " of "
                  << fans);
    CHECK(alarms <= (0.015 + friction_slack) * fans);
    CHECK(found >= ((known == 1 ? 0.5 : 0.7) - 2.0 * friction_slack) * fans);
    CHECK(named >= (0.9 - 2.0 * friction_slack) * found);
  }
}

TEST_CASE("no good machine, or good machines without friction, are refused") {
  CHECK_THROWS_AS(checks::friction_level(beside_good({}, friction_of())), rewound::base::error);
  CHECK_THROWS_AS(checks::friction_level(beside_good({friction_of(0.0, 0.0, 0.0)}, friction_of())),
                  rewound::base::error);
}
