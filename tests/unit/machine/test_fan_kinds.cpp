// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <rewound/machine/fan_population.hpp>

namespace machine = rewound::machine;
using rewound::record::running_circuit;

TEST_CASE("every kind of circuit finds designs, for one phase and for three") {
  for (const auto circuit : {running_circuit::start_winding_switched, running_circuit::permanent_capacitor,
                             running_circuit::shaded_pole, running_circuit::three_phase, running_circuit::unknown})
    for (const int phases : {1, 3}) {
      machine::machine_kind kind;
      kind.circuit = circuit;
      kind.phases = phases;
      const auto designs = machine::fan_population(kind, {1.0});
      REQUIRE_FALSE(designs.empty());
      for (const auto& design : designs) CHECK(design.machine.auxiliary.has_value() <= (phases == 1));
    }
}
