// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <fan_machines.hpp>
#include <near.hpp>
#include <rewound/base/error.hpp>
#include <rewound/machine/parameter_tests.hpp>
#include <rewound/machine/start_capacitance.hpp>

namespace machine = rewound::machine;
namespace units = rewound::units;
using rewound::testing::main_only;
using rewound::testing::near_absolute;
using rewound::testing::near_relative;
using rewound::testing::rated_frequency;
using rewound::testing::rated_voltage;
using rewound::testing::switched_machine;

namespace {

machine::bench_test reading(const machine::operating_point& p, units::voltage volts) {
  return {volts, p.line_current, p.input};
}

machine::bench_test locked_test(const machine::induction_machine& m) {
  const auto volts = 0.3 * rated_voltage(m);
  return reading(machine::point_at_slip(m, {}, {}, volts, rated_frequency(m), 1.0), volts);
}

}  // namespace

TEST_CASE("the refined parameters of a machine with equal leakages, turned at synchronous speed, are its own") {
  const auto m = main_only();
  const auto free =
      reading(machine::point_at_slip(m, {}, {}, rated_voltage(m), rated_frequency(m), 0.0), rated_voltage(m));
  const auto found = machine::refined_parameters(units::ohms(m.main_resistance_ohm), locked_test(m), free);
  CHECK(near_relative(units::in_ohms(found.rotor_resistance), m.rotor_resistance_ohm, 1e-9));
  CHECK(near_relative(units::in_ohms(found.leakage), m.main_leakage_ohm, 1e-9));
  CHECK(near_relative(units::in_ohms(found.magnetising), m.magnetising_ohm, 1e-9));
}

TEST_CASE("the quarter-horsepower machine tested exactly: what each method finds") {
  // Computed with an independent program: A. E. Fitzgerald's example 9.2 with 37 W of rotational loss. Simple: R2 3.86
  // (true 4.12), X 2.54 (true 2.79 and 2.12), Xm 66.9 (66.8), loss 45.9 W. Refined: R2 4.16, Xm 67.1.
  machine::induction_machine m = main_only();
  m.rated_voltage_V = 110.0;
  m.main_resistance_ohm = 2.02;
  m.main_leakage_ohm = 2.79;
  m.rotor_resistance_ohm = 4.12;
  m.rotor_leakage_ohm = 2.12;
  m.magnetising_ohm = 66.8;
  const auto r1 = units::ohms(2.02);
  const auto at = [&](double slip) {
    return reading(machine::point_at_slip(m, {}, {}, rated_voltage(m), rated_frequency(m), slip), rated_voltage(m));
  };
  const auto simple = machine::simple_parameters(r1, locked_test(m), at(0.0));
  CHECK(near_absolute(units::in_ohms(simple.rotor_resistance), 3.86, 0.005));
  CHECK(near_absolute(units::in_ohms(simple.leakage), 2.54, 0.005));
  CHECK(near_absolute(units::in_ohms(simple.magnetising), 66.9, 0.05));
  const auto refined = machine::refined_parameters(r1, locked_test(m), at(0.0));
  CHECK(near_absolute(units::in_ohms(refined.rotor_resistance), 4.16, 0.005));
  CHECK(near_absolute(units::in_ohms(refined.magnetising), 67.1, 0.05));
  // Its own rotational loss holds it at a slip of 1 %, where the forward rotor carries load.
  CHECK(near_absolute(units::in_watts(machine::simple_parameters(r1, locked_test(m), at(0.01)).rotational_loss), 45.9,
                      0.05));
}

TEST_CASE("the turns ratio from open windings: the drop in the leakage cancels") {
  // 100 V on the main winding induces a * 100 * k, 100 V on the auxiliary 100 / a * k', with a = 1.5 and equal drops.
  const auto a = machine::turns_ratio_from_open(units::volts(100.0), units::volts(1.5 * 96.0), units::volts(120.0),
                                                units::volts(120.0 * 0.96 / 1.5));
  CHECK(near_relative(a, 1.5, 1e-12));
}

TEST_CASE("the quadrature capacitor puts a quarter period between the winding currents of the model at rest") {
  auto m = switched_machine();
  m.auxiliary->capacitance_F = units::in_farads(machine::quadrature_capacitance(m, rated_frequency(m)));
  const auto p = machine::point_at_slip(m, {}, {}, rated_voltage(m), rated_frequency(m), 1.0, true);
  const double main = units::in_amperes(p.main_current), auxiliary = units::in_amperes(*p.auxiliary_current);
  const double line = units::in_amperes(p.line_current);
  CHECK(near_relative(line * line, main * main + auxiliary * auxiliary, 1e-12));
}

TEST_CASE("readings that no machine gives are refused") {
  const auto r1 = units::ohms(2.0);
  const machine::bench_test locked{units::volts(25.0), units::amperes(4.0), units::watts(80.0)};
  const machine::bench_test free{units::volts(115.0), units::amperes(3.2), units::watts(55.0)};
  CHECK_NOTHROW(machine::simple_parameters(r1, locked, free));
  const machine::bench_test more_than_apparent{units::volts(25.0), units::amperes(4.0), units::watts(101.0)};
  CHECK_THROWS_AS(machine::simple_parameters(r1, more_than_apparent, free), rewound::base::error);
  CHECK_THROWS_AS(machine::refined_parameters(units::ohms(5.1), locked, free), rewound::base::error);
  CHECK_THROWS_AS(machine::simple_parameters(r1, free, locked), rewound::base::error);
  const machine::bench_test no_current{units::volts(25.0), units::amperes(0.0), units::watts(80.0)};
  CHECK_THROWS_AS(machine::simple_parameters(r1, no_current, free), rewound::base::error);
}
