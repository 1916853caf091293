// SPDX-License-Identifier: MIT
#pragma once

#include <optional>
#include <vector>

#include <rewound/checks/cord.hpp>
#include <rewound/measurement/uncertain.hpp>
#include <rewound/record/record.hpp>
#include <rewound/verdict/finding.hpp>
#include <rewound/verdict/policy.hpp>

namespace rewound::verdict::rules {

/// The supply cord: thick enough for what the machine is marked with and draws, and with the conductors that a machine
/// with an earthed frame needs, where their number is stated: the lines, the neutral of a single-phase one, the earth.
///
/// @param current_A  the marked one, which is exact, or else the drawn; absent: neither is known
std::vector<finding> cord(const record::cord_section& of, const record::machine_section& machine,
                          const checks::cord_result& result,
                          const std::optional<measurement::uncertain<double>>& current_A, const policy& rules);

}  // namespace rewound::verdict::rules

#ifndef REWOUND_COMPILED
#include <rewound/verdict/impl/rules/cord.hpp>
#endif
