// SPDX-License-Identifier: MIT
#pragma once

#include <rewound/record/record.hpp>
#include <rewound/verdict/policy.hpp>
#include <rewound/verdict/rules/tested_circuit.hpp>

#include "analysis/instruments.hpp"

namespace rewound::job {

/// One circuit of one record through all checks that look at insulation.
verdict::rules::circuit_insulation analyse_insulation(const record::visit_record& in,
                                                      const bench_instruments& instruments,
                                                      const record::insulation_section& entry,
                                                      const verdict::policy& policy);

/// Relative standard uncertainty that readings of this tester share.
double tester_gain_uncertainty(const bench_instruments& instruments);

}  // namespace rewound::job
