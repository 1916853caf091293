// SPDX-License-Identifier: MIT
#include <rewound/checks/impl/coast_down.hpp>
#include <rewound/checks/impl/cooling.hpp>
#include <rewound/checks/impl/friction_level.hpp>
#include <rewound/checks/impl/heat_run.hpp>
#include <rewound/checks/impl/no_load.hpp>
#include <rewound/checks/impl/power_factor.hpp>
