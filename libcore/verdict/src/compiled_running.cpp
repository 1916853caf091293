// SPDX-License-Identifier: MIT
#include <rewound/verdict/impl/decision.hpp>
#include <rewound/verdict/impl/rules/bench_checks.hpp>
#include <rewound/verdict/impl/rules/capacitor.hpp>
#include <rewound/verdict/impl/rules/causes.hpp>
#include <rewound/verdict/impl/rules/coast_down.hpp>
#include <rewound/verdict/impl/rules/commutator.hpp>
#include <rewound/verdict/impl/rules/draw.hpp>
#include <rewound/verdict/impl/rules/heat_run.hpp>
#include <rewound/verdict/impl/rules/mechanics.hpp>
#include <rewound/verdict/impl/rules/no_load.hpp>
#include <rewound/verdict/impl/rules/readings.hpp>
#include <rewound/verdict/impl/rules/starting.hpp>
#include <rewound/verdict/impl/rules/steps.hpp>
#include <rewound/verdict/impl/rules/supply.hpp>
#include <rewound/verdict/impl/rules/unbalance.hpp>
