// SPDX-License-Identifier: MIT
#include <rewound/verdict/impl/rules/cord.hpp>
#include <rewound/verdict/impl/rules/insulation.hpp>
#include <rewound/verdict/impl/rules/tested_circuit.hpp>
#include <rewound/verdict/impl/rules/polarization.hpp>
#include <rewound/verdict/impl/rules/resistance.hpp>
#include <rewound/verdict/impl/rules/resistance_sections.hpp>
#include <rewound/verdict/impl/rules/touch_safety.hpp>
#include <rewound/verdict/impl/rules/trend.hpp>
#include <rewound/verdict/impl/rules/withstand.hpp>
