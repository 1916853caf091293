// SPDX-License-Identifier: MIT
#include <rewound/checks/impl/draw.hpp>
#include <rewound/checks/impl/expected_current.hpp>
#include <rewound/checks/impl/order.hpp>
#include <rewound/checks/impl/reference_level.hpp>
#include <rewound/checks/impl/rise.hpp>
#include <rewound/checks/impl/steps.hpp>
#include <rewound/checks/impl/summary.hpp>
#include <rewound/checks/impl/suspect.hpp>
