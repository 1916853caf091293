// SPDX-License-Identifier: MIT
#include <rewound/checks/impl/leakage.hpp>
#include <rewound/checks/impl/repeated_tries.hpp>
#include <rewound/checks/impl/resistance.hpp>
#include <rewound/checks/impl/rolled_leads.hpp>
#include <rewound/checks/impl/section_balance.hpp>
#include <rewound/checks/impl/start_positions.hpp>
#include <rewound/checks/impl/starting.hpp>
