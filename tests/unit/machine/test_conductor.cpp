// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <near.hpp>
#include <rewound/machine/conductor.hpp>
#include <rewound/machine/speed_control.hpp>

namespace machine = rewound::machine;
namespace record = rewound::record;
namespace units = rewound::units;
using rewound::record::conductor_material;
using rewound::testing::near_relative;

// The published values stand in reference/oracles/standards/conductor.csv; here are the laws.
TEST_CASE("a resistance brought somewhere and back is the same resistance") {
  for (const auto material : {conductor_material::copper, conductor_material::aluminium}) {
    const auto hot = machine::at_temperature(units::ohms(18.4), units::celsius(21.0), units::celsius(95.0), material);
    const auto back = machine::at_temperature(hot, units::celsius(95.0), units::celsius(21.0), material);
    CHECK(near_relative(units::in_ohms(back), 18.4, 1e-14));
    CHECK(hot > units::ohms(18.4));
  }
}

TEST_CASE("the stated slope is the derivative of the law") {
  const auto t = units::celsius(20.0);
  const auto step = units::kelvins(0.01);
  const double ratio =
      (machine::at_temperature(units::ohms(1.0), t - step, t + step, conductor_material::copper) / units::ohms(1.0))
          .value();
  CHECK(near_relative((ratio - 1.0) / 0.02, machine::relative_slope_per_K(t, conductor_material::copper), 1e-4));
}

TEST_CASE("only a change of pole number promises nothing about the order of currents") {
  using enum record::speed_control;
  for (const auto control :
       {tapped_winding, autotransformer, series_reactor, series_resistor, series_capacitor, none, unknown})
    CHECK(machine::promised_order(control) == machine::order_promise::tendency);
  CHECK(machine::promised_order(pole_change) == machine::order_promise::none);
}
