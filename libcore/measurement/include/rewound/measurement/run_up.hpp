// SPDX-License-Identifier: MIT
#pragma once

#include <string>
#include <vector>

#include <rewound/units/quantity.hpp>

namespace rewound::measurement {

/// One reading of a run-up: what the meters showed together.
struct run_up_reading {
  int index = 0;  ///< place in the record's lists, so that a finding can point back to it
  units::voltage voltage;
  units::current current;
  bool turning = true;  ///< false: the rotor stood still; such a reading belongs to no running curve
};

/// The readings taken on one speed while the voltage rose, in the order taken.
struct run_up {
  std::string speed;
  std::vector<run_up_reading> readings;
};

}  // namespace rewound::measurement
