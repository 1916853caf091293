// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <near.hpp>
#include <rewound/verdict/next_step.hpp>

TEST_CASE("a further measurement is worth its bits over its minutes and ten of setting up") {
  using rewound::verdict::measurement_kind;
  using rewound::verdict::next_step;
  for (const auto kind : {measurement_kind::watts, measurement_kind::heat_run, measurement_kind::polarization_index}) {
    next_step step{};
    step.measurement = kind;
    step.bits = 0.6;
    CHECK(rewound::testing::near_relative(step.worth() * (minutes(kind) + 10.0), 0.6, 1e-12));
  }
}
