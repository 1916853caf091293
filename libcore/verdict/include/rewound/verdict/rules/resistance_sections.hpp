// SPDX-License-Identifier: MIT
#pragma once

#include <optional>
#include <string>
#include <vector>

#include <rewound/checks/section_balance.hpp>
#include <rewound/checks/section_order.hpp>
#include <rewound/record/record.hpp>
#include <rewound/verdict/finding.hpp>
#include <rewound/verdict/policy.hpp>

namespace rewound::verdict::rules {

/// Sections that the record says are equal: the farthest from the mean, against AR100's limit for the kind of winding
/// (random wound where the record does not say).
finding resistance_balance(const std::string& group, const std::string& farthest,
                           const checks::section_balance_result& result,
                           const std::optional<record::winding_kind>& kind, const policy& rules);

/// The resistance from common to each speed's lead, fastest first, has to rise from speed to speed where the speed
/// control implies it. The step that is surest to fall speaks for all. What only the sections' names say fails nothing.
finding resistance_order(const std::vector<std::string>& speeds, const checks::section_order_result& result,
                         record::speed_control control, const policy& rules, bool by_name = false);

}  // namespace rewound::verdict::rules

#ifndef REWOUND_COMPILED
#include <rewound/verdict/impl/rules/resistance_sections.hpp>
#endif
