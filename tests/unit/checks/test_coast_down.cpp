// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <cmath>
#include <random>

#include <near.hpp>
#include <rewound/checks/coast_down.hpp>

namespace checks = rewound::checks;
namespace units = rewound::units;
using rewound::testing::near_relative;

namespace {

checks::coast_down_input readings_of(const checks::friction_terms& terms, double last, int count, double noise = 0.0,
                                     unsigned seed = 1) {
  std::mt19937_64 random(seed);
  std::normal_distribution<double> error(0.0, 1.0);
  checks::coast_down_input out{
      {}, units::angular_velocity::from_value(noise > 0.0 ? noise : 0.01), units::seconds(0.0), {}};
  for (int i = 0; i < count; ++i) {
    const double t = last * i / (count - 1);
    out.readings.push_back({units::seconds(t), units::angular_velocity::from_value(
                                                   checks::coasting_speed(140, terms, t) + noise * error(random))});
  }
  return out;
}

}  // namespace

TEST_CASE("exact readings give back constant, linear and quadratic term, alone and together") {
  for (const auto& terms :
       {checks::friction_terms{10, 0.2, 0.005}, checks::friction_terms{10, 0, 0}, checks::friction_terms{0, 0.3, 0},
        checks::friction_terms{0, 0, 0.004}, checks::friction_terms{5, 0, 0.003}}) {
    const auto result = checks::coast_down(readings_of(terms, 3.0, 25));
    REQUIRE(result.status == checks::coast_down_status::fitted);
    const double total = terms.constant + 140 * terms.linear + 140 * 140 * terms.quadratic;
    CHECK(near_relative(result.deceleration.value, total, 1e-5));
    CHECK(std::abs(result.terms.constant - terms.constant) < 1e-4 * total);
    CHECK(std::abs(result.terms.linear - terms.linear) * 140 < 1e-4 * total);
    CHECK(std::abs(result.terms.quadratic - terms.quadratic) * 140 * 140 < 1e-4 * total);
  }
}

TEST_CASE("the 95 % interval of the deceleration holds the truth about 95 times of 100") {
  const checks::friction_terms terms{10, 0.2, 0.003};
  const double total = 10 + 28 + 0.003 * 140 * 140;
  int held = 0;
  for (unsigned seed = 1; seed <= 400; ++seed) {
    auto in = readings_of(terms, 3.5, 20, 0.5, seed);
    in.compare_at = units::angular_velocity::from_value(140.0);
    const auto result = checks::coast_down(in);
    REQUIRE(result.status == checks::coast_down_status::fitted);
    if (std::abs(result.deceleration.value - total) <= 1.96 * result.deceleration.standard_uncertainty) ++held;
  }
  MESSAGE("coast-down coverage " << 100.0 * held / 400 << " %");
  CHECK(held >= 0.91 * 400);
  CHECK(held <= 0.99 * 400);
}

TEST_CASE("terms scale with the unit of time as their dimensions say") {
  auto in = readings_of({10, 0.2, 0.005}, 3.0, 25);
  const auto once = checks::coast_down(in);
  for (auto& reading : in.readings) reading.time *= 2.0;
  const auto twice = checks::coast_down(in);
  CHECK(near_relative(twice.terms.constant, once.terms.constant / 2, 1e-4));
  CHECK(near_relative(twice.terms.quadratic, once.terms.quadratic / 2, 1e-4));
  CHECK(near_relative(twice.stop_s, once.stop_s * 2, 1e-4));
}

TEST_CASE("a speed that rises or stays is no coast-down, and two readings are too few") {
  auto in = readings_of({10, 0, 0}, 3.0, 10);
  for (std::size_t i = 0; i < in.readings.size(); ++i)
    in.readings[i].speed = units::angular_velocity::from_value(100.0 + static_cast<double>(i));
  CHECK(checks::coast_down(in).status == checks::coast_down_status::not_slowing);
  for (auto& reading : in.readings) reading.speed = units::angular_velocity::from_value(100.0);
  CHECK(checks::coast_down(in).status == checks::coast_down_status::not_slowing);
  in.readings.resize(2);
  CHECK(checks::coast_down(in).status == checks::coast_down_status::too_few_readings);
}
