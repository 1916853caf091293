// SPDX-License-Identifier: MIT
#pragma once

#include <optional>
#include <string>
#include <vector>

#include <rewound/checks/no_load.hpp>
#include <rewound/checks/power_factor.hpp>
#include <rewound/record/record.hpp>
#include <rewound/verdict/finding.hpp>
#include <rewound/verdict/policy.hpp>

namespace rewound::verdict::rules {

/// Friction and windage, and core loss, of one speed that ran with a bare shaft; for information: no standard limits
/// them.
///
/// @param result  absent: the resistance that its current flows through is not known
std::vector<finding> no_load(const std::string& speed, const record::machine_section& of,
                             const std::optional<checks::no_load_result>& result, const policy& rules);

/// Power factor, apparent and reactive power of one reading near the rated voltage; for information.
finding power_factor(const std::string& speed, const record::run_up_row& row,
                     const checks::power_factor_result& result);

}  // namespace rewound::verdict::rules

#ifndef REWOUND_COMPILED
#include <rewound/verdict/impl/rules/no_load.hpp>
#endif
