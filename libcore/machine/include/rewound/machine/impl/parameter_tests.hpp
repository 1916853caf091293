// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>

#include <rewound/base/compiled.hpp>
#include <rewound/base/expect.hpp>
#include <rewound/machine/detail/phasor.hpp>
#include <rewound/machine/parameter_tests.hpp>
#include <rewound/units/quantity.hpp>

namespace rewound::machine {

namespace detail {

struct series_impedance {
  double resistance_ohm;
  double reactance_ohm;
};

inline series_impedance impedance_of(const bench_test& test, const char* name) {
  const double amperes = units::in_amperes(test.current);
  base::expect(amperes > 0.0, name, amperes, "a current above 0 A");
  const double resistance = units::in_watts(test.power) / (amperes * amperes);
  const double impedance = units::in_volts(test.voltage) / amperes;
  base::expect(resistance > 0.0 && resistance < impedance, name, units::in_watts(test.power),
               "watts above 0 and below volts times amperes");
  return {resistance, std::sqrt(impedance * impedance - resistance * resistance)};
}

/// Locked and no-load impedances with the resistances that they must exceed.
struct tested_impedances {
  double main_ohm;
  series_impedance locked, no_load;
  double no_load_A, no_load_W;
};

inline tested_impedances tested(units::resistance main, const bench_test& locked, const bench_test& no_load) {
  const tested_impedances out{units::in_ohms(main), impedance_of(locked, "locked test"),
                              impedance_of(no_load, "no-load test"), units::in_amperes(no_load.current),
                              units::in_watts(no_load.power)};
  base::expect(out.main_ohm > 0.0 && out.main_ohm < out.locked.resistance_ohm, "main resistance", out.main_ohm,
               "above 0 ohm and below the locked test's resistance");
  base::expect(out.no_load.reactance_ohm > out.locked.reactance_ohm, "no-load test", out.no_load.reactance_ohm,
               "a reactance above the locked test's");
  return out;
}

inline tested_parameters parameters_of(const tested_impedances& t, double rotor_ohm, double leakage_ohm,
                                       double magnetising_ohm, double backward_ohm) {
  const double copper = t.no_load_A * t.no_load_A * (t.main_ohm + backward_ohm);
  return {units::ohms(t.main_ohm), units::ohms(rotor_ohm), units::ohms(leakage_ohm), units::ohms(magnetising_ohm),
          units::watts(t.no_load_W - copper)};
}

}  // namespace detail

REWOUND_INLINE tested_parameters simple_parameters(units::resistance main, const bench_test& locked,
                                                   const bench_test& no_load) {
  const auto t = detail::tested(main, locked, no_load);
  const double rotor = t.locked.resistance_ohm - t.main_ohm;
  const double magnetising = 2.0 * t.no_load.reactance_ohm - 1.5 * t.locked.reactance_ohm;
  return detail::parameters_of(t, rotor, 0.5 * t.locked.reactance_ohm, magnetising, 0.25 * rotor);
}

REWOUND_INLINE tested_parameters refined_parameters(units::resistance main, const bench_test& locked,
                                                    const bench_test& no_load) {
  using detail::phasor;
  const auto t = detail::tested(main, locked, no_load);
  double leakage = 0.5 * t.locked.reactance_ohm;
  double magnetising = 2.0 * t.no_load.reactance_ohm - 1.5 * t.locked.reactance_ohm;
  phasor rotor{}, backward{};
  for (int pass = 0; pass < 200; ++pass) {
    const phasor iron{0.0, magnetising};
    const phasor beyond{t.locked.resistance_ohm - t.main_ohm, t.locked.reactance_ohm - leakage};
    rotor = iron * beyond / (iron - beyond);
    const phasor half{0.25 * rotor.re, 0.5 * rotor.im};
    backward = 0.5 * iron * half / (0.5 * iron + half);
    const double leakage_now = 0.5 * (leakage + rotor.im);
    const double magnetising_now = 2.0 * (t.no_load.reactance_ohm - leakage_now - backward.im);
    const double moved = std::abs(leakage_now - leakage) + std::abs(magnetising_now - magnetising);
    leakage = leakage_now;
    magnetising = magnetising_now;
    if (moved <= 1e-14 * magnetising) break;
  }
  base::expect(rotor.re > 0.0 && leakage > 0.0 && magnetising > 0.0, "locked test", rotor.re,
               "readings that some rotor explains");
  return detail::parameters_of(t, rotor.re, leakage, magnetising, backward.re);
}

REWOUND_INLINE double turns_ratio_from_locked(const bench_test& auxiliary_locked, units::resistance auxiliary,
                                              units::resistance rotor) {
  const double amperes = units::in_amperes(auxiliary_locked.current);
  base::expect(amperes > 0.0, "auxiliary locked test", amperes, "a current above 0 A");
  const double rotor_side = units::in_watts(auxiliary_locked.power) / (amperes * amperes) - units::in_ohms(auxiliary);
  base::expect(rotor_side > 0.0, "auxiliary resistance", units::in_ohms(auxiliary),
               "below the locked test's resistance");
  base::expect(units::in_ohms(rotor) > 0.0, "rotor resistance", units::in_ohms(rotor), "above 0 ohm");
  return std::sqrt(rotor_side / units::in_ohms(rotor));
}

REWOUND_INLINE double turns_ratio_from_open(units::voltage on_main, units::voltage induced_in_auxiliary,
                                            units::voltage on_auxiliary, units::voltage induced_in_main) {
  for (const auto& volts : {on_main, induced_in_auxiliary, on_auxiliary, induced_in_main})
    base::expect(units::in_volts(volts) > 0.0, "voltage", units::in_volts(volts), "above 0 V");
  return std::sqrt((induced_in_auxiliary / on_main * (on_auxiliary / induced_in_main)).value());
}

}  // namespace rewound::machine
