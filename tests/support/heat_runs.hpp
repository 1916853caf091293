// SPDX-License-Identifier: MIT
#pragma once

#include <rewound/checks/heat_run.hpp>

// Heat runs as they are usually asked for, the readings still to come.
namespace rewound::testing {

inline checks::heat_run_input unread_heat_run() {
  return {{},
          units::seconds(3000.0),
          2.2,
          12.0,
          units::kelvins(2.0),
          units::kelvins(1.0),
          {units::seconds(60.0), units::seconds(600.0), 0.5}};
}

}  // namespace rewound::testing
