// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <cmath>
#include <oracle_table.hpp>
#include <rewound/machine/parameter_tests.hpp>
#include <rewound/machine/running_point.hpp>
#include <rewound/machine/start_capacitance.hpp>

namespace machine = rewound::machine;
namespace units = rewound::units;
using inputs = rewound::testing::row_inputs;

namespace {

machine::tested_parameters tested(const inputs& in) {
  const machine::bench_test locked{units::volts(in("locked_V")), units::amperes(in("locked_A")),
                                   units::watts(in("locked_W"))};
  const machine::bench_test free{units::volts(in("free_V")), units::amperes(in("free_A")), units::watts(in("free_W"))};
  return machine::simple_parameters(units::ohms(in("R1")), locked, free);
}

/// The machine of the test on the voltage of its no-load test, at the row's slip.
machine::operating_point loaded(const inputs& in) {
  const auto found = tested(in);
  machine::induction_machine m;
  m.main_resistance_ohm = units::in_ohms(found.main_resistance);
  m.main_leakage_ohm = m.rotor_leakage_ohm = units::in_ohms(found.leakage);
  m.rotor_resistance_ohm = units::in_ohms(found.rotor_resistance);
  m.magnetising_ohm = units::in_ohms(found.magnetising);
  return machine::point_at_slip(m, {}, {}, units::volts(in("free_V")), units::hertz(50.0), in("s"));
}

/// Watts into the backward field's rotor: rotor copper is s Pf + (2 - s) Pb, output (1 - s)(Pf - Pb).
double backward_W(const inputs& in) {
  const auto p = loaded(in);
  const double difference = units::in_watts(p.output) / (1.0 - p.slip);
  return 0.5 * (units::in_watts(p.losses.rotor_copper) - p.slip * difference);
}

double forward_W(const inputs& in) {
  const auto p = loaded(in);
  return units::in_watts(p.output) / (1.0 - p.slip) + backward_W(in);
}

double turns_ratio(const inputs& in) {
  const machine::bench_test locked{units::volts(in("aux_V")), units::amperes(in("aux_A")), units::watts(in("aux_W"))};
  return machine::turns_ratio_from_locked(locked, units::ohms(in("Ra")), tested(in).rotor_resistance);
}

/// Two windings given by their impedances alone: a rotor that lets no field stand.
machine::induction_machine windings(const inputs& in) {
  machine::induction_machine m;
  m.rated_frequency_Hz = in("f");
  m.main_resistance_ohm = in("Rm");
  m.main_leakage_ohm = in("Xm");
  m.rotor_resistance_ohm = 1e-9;
  m.magnetising_ohm = 1.0;
  machine::auxiliary_winding start;
  start.resistance_ohm = in("Ra");
  start.leakage_ohm = in("Xa");
  m.auxiliary = start;
  return m;
}

double quadrature_uF(const inputs& in) {
  return 1e6 * units::in_farads(machine::quadrature_capacitance(windings(in), units::hertz(in("f"))));
}

double line_A(const inputs& in) {
  return units::in_amperes(
      machine::point_at_slip(windings(in), {}, {}, units::volts(in("V")), units::hertz(in("f")), 1.0).line_current);
}

}  // namespace

TEST_CASE("locked and no-load tests: every worked figure is met to its printed digits") {
  rewound::testing::check_table(
      "machines/parameter_tests.csv",
      {{"leakage_ohm", [](const inputs& in) { return units::in_ohms(tested(in).leakage); }},
       {"rotor_ohm", [](const inputs& in) { return units::in_ohms(tested(in).rotor_resistance); }},
       {"magnetising_ohm", [](const inputs& in) { return units::in_ohms(tested(in).magnetising); }},
       {"rotational_W", [](const inputs& in) { return units::in_watts(tested(in).rotational_loss); }},
       {"turns_ratio", turns_ratio},
       {"current_A", [](const inputs& in) { return units::in_amperes(loaded(in).line_current); }},
       {"power_factor", [](const inputs& in) { return loaded(in).power_factor; }},
       {"forward_W", forward_W},
       {"backward_W", backward_W}});
}

TEST_CASE("start capacitor: every worked figure is met to its printed digits") {
  rewound::testing::check_table("machines/start_capacitor.csv", {{"quadrature_uF", quadrature_uF}, {"line_A", line_A}});
}
