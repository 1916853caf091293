// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <cmath>
#include <random>
#include <vector>

#include <near.hpp>
#include <rewound/base/error.hpp>
#include <rewound/checks/no_load.hpp>
#include <rewound/checks/power_factor.hpp>
#include <rewound/measurement/normal.hpp>

namespace base = rewound::base;
namespace checks = rewound::checks;
namespace measurement = rewound::measurement;
namespace units = rewound::units;
using rewound::checks::no_load;
using rewound::checks::no_load_input;
using rewound::checks::no_load_status;
using rewound::testing::near_absolute;
using rewound::testing::near_relative;

namespace {

constexpr double bare_rated_V = 230.0;
constexpr double bare_ohms = 20.0;

/// A machine of 6 W friction and windage and `core` W core loss at 230 V, with a current of its own.
no_load_input bare_machine(const std::vector<double>& at_volts, double core = 22.0, double exponent = 2.0,
                           double friction = 6.0) {
  no_load_input out{
      .readings = {}, .rated_voltage = units::volts(bare_rated_V), .loss_resistance = units::ohms(bare_ohms)};
  for (const double v : at_volts) {
    const double amperes = 0.05 + 0.0015 * v;
    out.readings.push_back(
        {units::volts(v), units::amperes(amperes),
         units::watts(friction + core * std::pow(v / bare_rated_V, exponent) + bare_ohms * amperes * amperes),
         units::volts(0.05), units::amperes(0.0005), units::watts(0.1)});
  }
  return out;
}

const std::vector<double> bare_voltages{60, 80, 100, 120, 140, 160, 180, 207, 230, 253};

double watts_value(const measurement::uncertain<units::power>& watts) { return units::in_watts(watts.value); }
double watts_half(const measurement::uncertain<units::power>& watts) {
  return measurement::coverage_95 * units::in_watts(watts.standard_uncertainty);
}

}  // namespace

TEST_CASE("readings without error give back friction and core loss") {
  const auto result = no_load(bare_machine(bare_voltages));
  REQUIRE(result.status == no_load_status::separated);
  CHECK(near_absolute(watts_value(result.friction_and_windage), 6.0, 1e-9));
  REQUIRE(result.core);
  CHECK(near_absolute(watts_value(*result.core), 22.0, 1e-9));
  CHECK(result.used == 7);
  CHECK(result.to == units::volts(180.0));
  CHECK(result.core_at == units::volts(230.0));
}

TEST_CASE("95 % intervals of friction and of core loss hold the truth about 95 times of 100") {
  std::mt19937 random(20260514);
  std::normal_distribution<double> normal;
  int friction = 0;
  int core = 0;
  constexpr int runs = 2000;
  for (int run = 0; run < runs; ++run) {
    auto in = bare_machine(bare_voltages);
    in.power_gain_uncertainty = 0.01;
    in.loss_uncertainty = 0.03;
    const double gain = 1.0 + 0.01 * normal(random);
    const double loss = 1.0 + 0.03 * normal(random);  // of the true resistance over the stated one
    for (auto& r : in.readings) {
      const double i = r.current.value();
      r.power = units::watts((r.power.value() + (loss - 1.0) * bare_ohms * i * i) * gain + 0.1 * normal(random));
      r.current = units::amperes(i + 0.0005 * normal(random));
      r.voltage = units::volts(r.voltage.value() + 0.05 * normal(random));
    }
    const auto result = no_load(in);
    REQUIRE(result.core);
    friction += std::abs(watts_value(result.friction_and_windage) - 6.0) <= watts_half(result.friction_and_windage);
    core += std::abs(watts_value(*result.core) - 22.0) <= watts_half(*result.core);
  }
  MESSAGE("held: friction ", friction, ", core ", core, " of ", runs);
  CHECK(friction > 0.93 * runs);
  CHECK(core > 0.93 * runs);
  CHECK(friction < 0.985 * runs);
  CHECK(core < 0.99 * runs);
}

TEST_CASE("losses do not depend on the voltage a machine is made for") {
  auto in = bare_machine(bare_voltages);
  in.readings[2].power = units::watts(in.readings[2].power.value() + 0.15);
  auto half_voltage = in;
  half_voltage.rated_voltage = units::volts(bare_rated_V / 2.0);
  for (auto& r : half_voltage.readings) {
    r.voltage = r.voltage / 2.0;
    r.voltage_uncertainty = r.voltage_uncertainty / 2.0;
  }
  const auto a = no_load(in);
  const auto b = no_load(half_voltage);
  CHECK(near_relative(watts_value(b.friction_and_windage), watts_value(a.friction_and_windage), 1e-12));
  CHECK(near_relative(watts_half(b.friction_and_windage), watts_half(a.friction_and_windage), 1e-12));
}

TEST_CASE("below the current's minimum nothing is used") {
  auto in = bare_machine(bare_voltages);
  in.readings.push_back({units::volts(40.0), units::amperes(0.9), units::watts(60.0), units::volts(0.05),
                         units::amperes(0.0005), units::watts(0.1)});
  CHECK(near_absolute(watts_value(no_load(in).friction_and_windage), 6.0, 1e-9));
}

TEST_CASE("a bend at the top is taken off") {
  auto in = bare_machine(bare_voltages);
  for (auto& r : in.readings)
    if (r.voltage.value() > 150.0) r.power = units::watts(r.power.value() + 0.06 * (r.voltage.value() - 150.0));
  const auto result = no_load(in);
  CHECK(result.used < 7);
  CHECK(near_absolute(watts_value(result.friction_and_windage), 6.0, watts_half(result.friction_and_windage)));
}

TEST_CASE("a core loss that does not grow with the square is allowed for") {
  auto in = bare_machine(bare_voltages, 22.0, 1.7);
  in.exponent_low = 1.6;
  in.exponent_high = 2.2;
  const auto result = no_load(in);
  CHECK(std::abs(watts_value(result.friction_and_windage) - 6.0) <= watts_half(result.friction_and_windage));
  CHECK(watts_half(result.friction_and_windage) > 0.5);
}

TEST_CASE("too few readings, no friction to tell and less than none are told apart") {
  CHECK(no_load(bare_machine({100, 150, 207, 230})).status == no_load_status::too_few);
  CHECK(no_load(bare_machine({})).status == no_load_status::too_few);
  CHECK(no_load(bare_machine({120, 120, 120})).status == no_load_status::too_few);
  CHECK(no_load(bare_machine(bare_voltages, 22.0, 2.0, 0.05)).status == no_load_status::not_told);
  CHECK(no_load(bare_machine(bare_voltages, 22.0, 2.0, -2.0)).status == no_load_status::below_nothing);
  const auto no_rating = no_load(bare_machine({60, 80, 100, 120}));
  CHECK(no_rating.status == no_load_status::separated);
  CHECK_FALSE(no_rating.core);
}

TEST_CASE("impossible input is refused") {
  auto in = bare_machine(bare_voltages);
  in.rated_voltage = units::volts(0.0);
  CHECK_THROWS_AS(no_load(in), base::error);
  in = bare_machine(bare_voltages);
  in.readings[0].power_uncertainty = units::watts(0.0);
  CHECK_THROWS_AS(no_load(in), base::error);
}

namespace {

checks::power_factor_input watts_reading(double v, double i, double p, int phases = 1) {
  return {units::volts(v),
          units::amperes(i),
          units::watts(p),
          phases,
          {"", 0.01, units::volts(0.1), 2.0},
          {"", 0.01, units::amperes(0.001), 2.0},
          {"", 0.01, units::watts(0.1), 2.0}};
}

}  // namespace

TEST_CASE("power factor and reactive power are the sides of a right triangle") {
  const auto result = checks::power_factor(watts_reading(100.0, 5.0, 300.0));
  CHECK(near_relative(result.factor.value, 0.6, 1e-12));
  CHECK(near_relative(result.reactive.value(), 400.0, 1e-12));
  CHECK(near_relative(checks::power_factor(watts_reading(100.0, 5.0, 300.0 * std::sqrt(3.0), 3)).factor.value, 0.6,
                      1e-12));
}

TEST_CASE("watts above volts times amperes are impossible beyond the limits of error, and not before") {
  // At most (100 + 1.2) (5 + 0.052) = 511.26 VA; watts less their limit of 1 % and 0.2 W reach it at 516.63 W.
  const double most = (101.2 * 5.052 + 0.2) / 0.99;
  CHECK_FALSE(checks::power_factor(watts_reading(100.0, 5.0, 500.0)).impossible);
  CHECK_FALSE(checks::power_factor(watts_reading(100.0, 5.0, most - 1e-6)).impossible);
  CHECK(checks::power_factor(watts_reading(100.0, 5.0, most + 1e-6)).impossible);
  CHECK(checks::power_factor(watts_reading(100.0, 5.0, 600.0)).reactive.value() == 0.0);
  CHECK_THROWS_AS(checks::power_factor(watts_reading(0.0, 5.0, 1.0)), base::error);
  CHECK_THROWS_AS(checks::power_factor(watts_reading(100.0, 5.0, 1.0, 2)), base::error);
}
