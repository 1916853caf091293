// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <cmath>
#include <complex>
#include <fan_machines.hpp>
#include <near.hpp>
#include <rewound/base/error.hpp>
#include <rewound/machine/fault.hpp>
#include <rewound/units/rotation.hpp>
#include <vector>

namespace machine = rewound::machine;
namespace units = rewound::units;
using machine::fault;
using rewound::testing::capacitor_machine;
using rewound::testing::fan_at_slip;
using rewound::testing::main_only;
using rewound::testing::near_absolute;
using rewound::testing::near_relative;
using rewound::testing::switched_machine;
using rewound::testing::tapped_fan;

namespace {

const auto rated = units::volts(230.0);

double amperes_of(const machine::fan_design& d, std::size_t speed) {
  return units::in_amperes(machine::running_point(d, speed, rated).line_current);
}

double change(const machine::fan_design& healthy, const machine::fan_design& faulty, std::size_t speed) {
  return amperes_of(faulty, speed) / amperes_of(healthy, speed) - 1.0;
}

machine::fan_design with_choke() {
  auto d = tapped_fan();
  d.steps.assign(3, {});
  d.steps[1].series_reactance_ohm = 40.0;
  d.steps[2].series_reactance_ohm = 160.0;
  return d;
}

}  // namespace

TEST_CASE("a fault of no severity changes nothing") {
  const auto d = tapped_fan();
  for (const auto which : machine::all_faults) {
    if (which == fault::speed_leads_exchanged || which == fault::speed_section_open || !machine::can_have(d, which))
      continue;
    CAPTURE(machine::name(which));
    const auto same = machine::apply_fault(d, which, 0.0);
    for (std::size_t speed = 0; speed < 3; ++speed) CHECK(amperes_of(same, speed) == amperes_of(d, speed));
  }
}

TEST_CASE("closed turns: none change nothing, and hardly any change hardly anything") {
  const auto d = tapped_fan();
  CHECK(amperes_of(machine::apply_fault(d, fault::shorted_turns, 0.0), 0) == amperes_of(d, 0));
  for (const double share : {1e-9, 1e-6}) {
    const double by = change(d, machine::apply_fault(d, fault::shorted_turns, share), 0);
    CHECK(by > 0.0);
    CHECK(by < 20.0 * share);
  }
}

TEST_CASE("closed turns on the main axis: a transformer's two loops, solved by hand") {
  using complex = std::complex<double>;
  const complex j(0.0, 1.0);
  auto m = main_only();
  const double s = 0.1, r = 0.12, x = 0.04, slip = 0.08;
  m.shorted = {s, r, x};
  const auto field = [&](double of) {
    const complex iron = 0.5 * j * m.magnetising_ohm,
                  rotor = 0.5 * m.rotor_resistance_ohm / of + 0.5 * j * m.rotor_leakage_ohm;
    return iron * rotor / (iron + rotor);
  };
  const complex z = field(slip) + field(2.0 - slip);
  // Leakage in series stays what it was: own parts and twice the common one add up to the coil's.
  const complex open =
      (1.0 - r) * m.main_resistance_ohm + j * (1.0 - 2.0 * s + x) * m.main_leakage_ohm + (1.0 - s) * (1.0 - s) * z;
  const complex closed = r * m.main_resistance_ohm + j * x * m.main_leakage_ohm + s * s * z;
  const complex common = j * (s - x) * m.main_leakage_ohm + s * (1.0 - s) * z;
  const complex current = m.rated_voltage_V / (open - common * common / closed);
  const auto p = machine::point_at_slip(m, {}, {}, units::volts(m.rated_voltage_V), units::hertz(60.0), slip);
  CHECK(near_relative(units::in_amperes(p.line_current), std::abs(current), 1e-12));
  CHECK(near_relative(p.line_phase_rad, std::arg(current), 1e-12));
}

TEST_CASE("closed turns carry their own loss: watts rise more than amperes on a bare shaft") {
  auto d = tapped_fan();
  d.load.square_Nm_s2 *= 0.02;
  const auto shorted = machine::apply_fault(d, fault::shorted_turns, 0.03);
  for (std::size_t speed = 0; speed < 3; ++speed) {
    const double watts = units::in_watts(machine::running_point(shorted, speed, rated).input) /
                             units::in_watts(machine::running_point(d, speed, rated).input) -
                         1.0;
    CHECK(watts > 1.3 * change(d, shorted, speed));
    CHECK(change(d, shorted, speed) > 0.1);
  }
}

TEST_CASE("turns: the machine with fewer turns is the same machine on a higher voltage, but for its resistances") {
  auto d = tapped_fan();
  d.steps.resize(1);
  const double factor = 0.9;
  const auto fewer = machine::apply_fault(d, fault::too_few_turns, 1.0 - factor);
  // All impedances over the square: the stator's resistances and the capacitor follow by hand, all else by the law.
  auto same = d;
  same.machine.main_resistance_ohm /= factor;
  same.machine.auxiliary->resistance_ohm /= factor;
  *same.machine.auxiliary->capacitance_F *= factor * factor;
  const auto p = machine::running_point(fewer, 0, rated);
  const auto q = machine::running_point(same, 0, rated / factor);
  CHECK(near_relative(units::in_amperes(p.line_current), units::in_amperes(q.line_current) / factor, 1e-9));
  CHECK(near_relative(units::in_watts(p.input), units::in_watts(q.input), 1e-9));
  CHECK(near_relative(p.slip, q.slip, 1e-9));
}

TEST_CASE("the main winding's turns alone: seen from the start winding, rotor and core are what they were") {
  const auto d = tapped_fan();
  for (const double factor : {0.9, 1.1}) {
    const auto other = factor < 1.0 ? machine::apply_fault(d, fault::too_few_main_turns, 1.0 - factor)
                                    : machine::apply_fault(d, fault::too_many_main_turns, factor - 1.0);
    const auto& was = d.machine;
    const auto& is = other.machine;
    const double seen = std::pow(is.auxiliary->turns_ratio / was.auxiliary->turns_ratio, 2);
    CHECK(near_relative(seen * is.rotor_resistance_ohm, was.rotor_resistance_ohm, 1e-12));
    CHECK(near_relative(seen * is.rotor_leakage_ohm, was.rotor_leakage_ohm, 1e-12));
    CHECK(near_relative(seen * is.magnetising_ohm, was.magnetising_ohm, 1e-12));
    CHECK(is.auxiliary->resistance_ohm == was.auxiliary->resistance_ohm);
    CHECK(is.auxiliary->leakage_ohm == was.auxiliary->leakage_ohm);
    CHECK(near_relative(is.main_resistance_ohm, factor * was.main_resistance_ohm, 1e-12));
    CHECK(near_relative(is.main_leakage_ohm, factor * factor * was.main_leakage_ohm, 1e-12));
    // A speed winding has the turns that it had: more or fewer of the main winding's.
    CHECK(near_relative(other.steps[2].speed_turns * factor, d.steps[2].speed_turns, 1e-12));
  }
}

TEST_CASE("the main winding's turns alone are those of every coil for a machine that runs on it by itself") {
  machine::fan_design d;
  d.machine = switched_machine();
  d.load = fan_at_slip(d.machine, 0.08);
  d.steps.resize(1);
  CHECK(near_relative(amperes_of(machine::apply_fault(d, fault::too_few_main_turns, 0.08), 0),
                      amperes_of(machine::apply_fault(d, fault::too_few_turns, 0.08), 0), 1e-9));
  CHECK(near_relative(amperes_of(machine::apply_fault(d, fault::main_wire_too_thin, 0.26), 0),
                      amperes_of(machine::apply_fault(d, fault::wire_too_thin, 0.26), 0), 1e-9));
  d.machine = main_only();
  CHECK_FALSE(machine::can_have(d, fault::too_few_main_turns));
  CHECK_FALSE(machine::can_have(d, fault::main_wire_too_thick));
}

TEST_CASE("signatures have the direction and the size of the table of fault signatures") {
  // Computed with an independent program for a machine of the same kind (tapped winding, 0, 0.3 and 0.8 of the main
  // turns, no core loss): change of current in percent at the three speeds, fan on.
  auto d = tapped_fan();
  d.machine.core_loss_W = 0.0;
  d.load = fan_at_slip(d.machine, 0.12);
  struct row {
    fault which;
    double severity;
    std::vector<double> percent;
  };
  const std::vector<row> table = {
      {fault::too_few_turns, 0.10, {25, 15, 16}}, {fault::too_many_turns, 0.10, {-8, -7, -11}},
      {fault::weak_capacitor, 0.20, {0, 0, 1}},   {fault::weak_capacitor, 0.50, {11, 11, 8}},
      {fault::rotor_fault, 0.30, {-2, -6, -10}},  {fault::tight_bearing, 0.10, {3, 6, 7}},
      {fault::wire_too_thin, 0.59, {6, 6, 2}}};
  for (const auto& each : table)
    for (std::size_t speed = 0; speed < 3; ++speed) {
      CAPTURE(machine::name(each.which));
      CHECK(near_absolute(100.0 * change(d, machine::apply_fault(d, each.which, each.severity), speed),
                          each.percent[speed], 1.2));
    }
}

TEST_CASE("a shorted section of the choke is felt by every slower speed") {
  const auto d = with_choke();
  const auto shorted = machine::apply_fault(d, fault::speed_section_shorted, 0.5);
  CHECK(amperes_of(shorted, 0) == amperes_of(d, 0));
  CHECK(near_relative(shorted.steps[1].series_reactance_ohm, 10.0, 1e-12));
  CHECK(near_relative(shorted.steps[2].series_reactance_ohm, std::pow(std::sqrt(160.0) - 0.5 * std::sqrt(40.0), 2.0),
                      1e-12));
}

TEST_CASE("a shorted section of a tapped winding is the same turns on every speed that uses it") {
  const auto shorted = machine::apply_fault(tapped_fan(), fault::speed_section_shorted, 0.2);
  CHECK(shorted.steps[0].shorted.share == 0.0);
  CHECK(near_relative(shorted.steps[1].shorted.share * 0.3, 0.06, 1e-12));
  CHECK(near_relative(shorted.steps[2].shorted.share * 0.8, 0.06, 1e-12));
}

TEST_CASE("shorted sections of resistors and autotransformers") {
  auto d = with_choke();
  d.steps[1] = d.steps[2] = {};
  d.steps[1].series_resistance_ohm = 40.0;
  d.steps[2].series_resistance_ohm = 90.0;
  const auto resistor = machine::apply_fault(d, fault::speed_section_shorted, 0.25);
  CHECK(near_relative(resistor.steps[1].series_resistance_ohm, 30.0, 1e-12));
  CHECK(near_relative(resistor.steps[2].series_resistance_ohm, 80.0, 1e-12));
  d.steps[1] = d.steps[2] = {};
  d.steps[1].autotransformer_ratio = 0.8;
  d.steps[2].autotransformer_ratio = 0.5;
  const auto transformer = machine::apply_fault(d, fault::speed_section_shorted, 0.5);
  CHECK(near_relative(transformer.steps[1].autotransformer_ratio, 0.8 / 0.9, 1e-12));
  CHECK(near_relative(transformer.steps[2].autotransformer_ratio, 0.5 / 0.9, 1e-12));
}

TEST_CASE("an open section leaves the slower speeds dead, exchanged leads exchange two of them") {
  const auto d = tapped_fan();
  const auto open = machine::apply_fault(d, fault::speed_section_open, 1.0);
  CHECK(machine::running_point(open, 0, rated).state == machine::running_state::runs);
  for (const std::size_t speed : {1u, 2u})
    CHECK(machine::running_point(open, speed, rated).state == machine::running_state::dead);
  const auto exchanged = machine::apply_fault(d, fault::speed_leads_exchanged, 2.0);
  CHECK(amperes_of(exchanged, 0) == amperes_of(d, 0));
  CHECK(amperes_of(exchanged, 1) == amperes_of(d, 2));
  CHECK(amperes_of(exchanged, 2) == amperes_of(d, 1));
}

TEST_CASE("a start winding left in draws several times the current") {
  machine::fan_design d;
  d.machine = switched_machine();
  d.load = fan_at_slip(main_only(), 0.05);
  const auto healthy = machine::running_point(d, 0, units::volts(115.0));
  const auto left_in =
      machine::running_point(machine::apply_fault(d, fault::start_winding_left_in, 1.0), 0, units::volts(115.0));
  const double times = (left_in.line_current / healthy.line_current).value();
  CHECK(times > 2.5);  // common practice, no source: 2.5 to 4 times
  CHECK(times < 4.0);
}

TEST_CASE("a tight bearing adds its share of the rated torque, and resists at rest too") {
  const auto d = tapped_fan();
  const auto tight = machine::apply_fault(d, fault::tight_bearing, 0.1);
  const double torque = units::in_newton_metres(machine::running_point(d, 0, rated).developed_torque);
  CHECK(near_relative(tight.load.friction_Nm - d.load.friction_Nm, 0.1 * torque, 1e-12));
  CHECK(near_relative(tight.load.breakaway_Nm - d.load.breakaway_Nm, 0.1 * torque, 1e-12));
}

TEST_CASE("wire, rotor, capacitor and frequency change what they name and nothing else") {
  const auto d = tapped_fan();
  CHECK(near_relative(machine::apply_fault(d, fault::wire_too_thin, 0.26).machine.auxiliary->resistance_ohm,
                      1.26 * 149.78, 1e-12));
  CHECK(near_relative(machine::apply_fault(d, fault::wire_too_thick, 0.26).machine.main_resistance_ohm, 34.14 / 1.26,
                      1e-12));
  const auto thin = machine::apply_fault(d, fault::main_wire_too_thin, 0.26);
  CHECK(near_relative(thin.machine.main_resistance_ohm, 1.26 * 34.14, 1e-12));
  CHECK(thin.machine.auxiliary->resistance_ohm == d.machine.auxiliary->resistance_ohm);
  CHECK(near_relative(thin.steps[2].speed_resistance_ohm.value(), 34.14 * d.steps[2].speed_turns, 1e-12));
  CHECK(near_relative(machine::apply_fault(d, fault::main_wire_too_thick, 0.26).machine.main_resistance_ohm,
                      34.14 / 1.26, 1e-12));
  CHECK(near_relative(machine::apply_fault(d, fault::rotor_fault, 0.3).machine.rotor_resistance_ohm, 78.0, 1e-12));
  CHECK(near_relative(*machine::apply_fault(d, fault::weak_capacitor, 0.25).machine.auxiliary->capacitance_F, 3e-6,
                      1e-12));
  const auto fast = machine::apply_fault(d, fault::wrong_frequency, 0.2);
  CHECK(near_relative(units::in_hertz(machine::supply_frequency(fast)), 60.0, 1e-12));
  CHECK(machine::running_point(fast, 0, rated).speed > machine::running_point(d, 0, rated).speed);
}

TEST_CASE("faults that a design cannot have, and severities that mean nothing, are refused") {
  const auto d = tapped_fan();
  CHECK_THROWS_AS(machine::apply_fault(d, fault::start_winding_left_in, 1.0), rewound::base::error);
  CHECK_THROWS_AS(machine::apply_fault(d, fault::shorted_turns, 1.0), rewound::base::error);
  CHECK_THROWS_AS(machine::apply_fault(d, fault::too_few_turns, -0.1), rewound::base::error);
  CHECK_THROWS_AS(machine::apply_fault(d, fault::speed_leads_exchanged, 3.0), rewound::base::error);
  CHECK_THROWS_AS(machine::apply_fault(d, fault::speed_leads_exchanged, 1.5), rewound::base::error);
  CHECK_THROWS_AS(machine::apply_fault(d, fault::wrong_frequency, std::nan("")), rewound::base::error);
  machine::fan_design one;
  one.machine = main_only();
  for (const auto which :
       {fault::speed_section_shorted, fault::speed_section_open, fault::speed_leads_exchanged, fault::weak_capacitor})
    CHECK_FALSE(machine::can_have(one, which));
}
