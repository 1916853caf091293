// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <cmath>
#include <numbers>

#include <near.hpp>
#include <rewound/base/error.hpp>
#include <rewound/machine/air_gap.hpp>

namespace machine = rewound::machine;
namespace units = rewound::units;
using rewound::testing::near_relative;

namespace {

const machine::wound_core small_core{.poles = 4,
                                     .turns = 800.0,
                                     .winding_factor = 0.85,
                                     .bore = units::millimetres(46.0),
                                     .stack = units::millimetres(18.0),
                                     .gap = units::millimetres(0.3),
                                     .gap_factor = 1.15};

double reactance(const machine::wound_core& of, double hertz = 50.0) {
  return units::in_ohms(machine::magnetising_reactance(of, units::hertz(hertz)));
}

/// The same by integration: conductors spread as a sine around the bore, one ampere through them, the field that they
/// drive across the gap from Ampere's law, and the flux that every conductor then links.
double integrated_reactance(const machine::wound_core& of, double hertz) {
  constexpr int steps = 20000;
  const double pairs = of.poles / 2.0, step = 2.0 * std::numbers::pi / steps;
  // Conductors a radian: the fundamental of turns that are concentrated in one slot a pole.
  const double peak = 2.0 / std::numbers::pi * of.turns * of.winding_factor;
  const auto conductors = [&](double angle) { return peak * std::sin(pairs * angle); };
  const double gap = units::in_metres(of.gap) * of.gap_factor;
  const double radius = 0.5 * units::in_metres(of.bore), length = units::in_metres(of.stack);
  // Ampere's law: the field falls from its maximum at angle 0 by mu0 / gap times the current passed.
  double passed = 0.0, mean = 0.0;
  for (int i = 0; i < steps; ++i) {
    passed += conductors((i + 0.5) * step) * step;
    mean += passed / steps;
  }
  double linked = 0.0, flux = 0.0;
  passed = 0.0;
  for (int i = 0; i < steps; ++i) {
    const double middle = (i + 0.5) * step;
    const double half = 0.5 * conductors(middle) * step;
    passed += half;
    const double field = -4e-7 * std::numbers::pi * (passed - mean) / gap;
    passed += half;
    flux += 0.5 * field * radius * length * step;
    linked += conductors(middle) * flux * step;
    flux += 0.5 * field * radius * length * step;
  }
  return 2.0 * std::numbers::pi * hertz * std::abs(linked);
}

}  // namespace

TEST_CASE("the magnetising reactance of a winding in its gap is that of the field integrated around it") {
  for (const int poles : {2, 4, 6, 8})
    for (const double hertz : {50.0, 60.0}) {
      auto of = small_core;
      of.poles = poles;
      of.turns = 200.0 * poles;
      CAPTURE(poles);
      CHECK(near_relative(reactance(of, hertz), integrated_reactance(of, hertz), 1e-6));
    }
}

TEST_CASE("it goes with turns squared, the iron's size and the frequency, against the gap") {
  const double x = reactance(small_core);
  auto of = small_core;
  of.turns *= 1.1;
  CHECK(near_relative(reactance(of), 1.21 * x, 1e-12));
  of = small_core;
  of.gap = units::millimetres(0.36);
  CHECK(near_relative(reactance(of), x / 1.2, 1e-12));
  of = small_core;
  of.stack = units::millimetres(36.0);
  CHECK(near_relative(reactance(of), 2.0 * x, 1e-12));
  CHECK(near_relative(reactance(small_core, 60.0), 1.2 * x, 1e-12));
}

TEST_CASE("a core without turns, length or an even number of poles is refused") {
  auto of = small_core;
  of.turns = 0.0;
  CHECK_THROWS_AS(reactance(of), rewound::base::error);
  of = small_core;
  of.gap = units::millimetres(-0.3);
  CHECK_THROWS_AS(reactance(of), rewound::base::error);
  of = small_core;
  of.poles = 3;
  CHECK_THROWS_AS(reactance(of), rewound::base::error);
}
