// SPDX-License-Identifier: MIT
#include <rewound/checks/detail/impl/fault_signatures.hpp>
#include <rewound/checks/impl/design_match.hpp>
#include <rewound/checks/impl/design_population.hpp>
#include <rewound/checks/impl/fault_likelihood.hpp>
#include <rewound/checks/impl/next_measurement.hpp>
