// SPDX-License-Identifier: MIT
#pragma once

#include <optional>
#include <vector>

#include <rewound/checks/section_balance.hpp>
#include <rewound/record/record.hpp>
#include <rewound/verdict/finding.hpp>
#include <rewound/verdict/policy.hpp>

namespace rewound::verdict::rules {

/// Brushes and armature of a commutator machine: length of the brushes, their place, and readings from bar to bar,
/// which should be alike all round.
///
/// @param bars  of the readings from bar to bar, where there are two or more that are not all nothing
std::vector<finding> commutator(const record::commutator_section& of,
                                const std::optional<checks::section_balance_result>& bars, const policy& rules);

}  // namespace rewound::verdict::rules

#ifndef REWOUND_COMPILED
#include <rewound/verdict/impl/rules/commutator.hpp>
#endif
