// SPDX-License-Identifier: MIT
#pragma once

#include <optional>
#include <vector>

#include <rewound/checks/capacitor.hpp>
#include <rewound/record/record.hpp>
#include <rewound/verdict/finding.hpp>
#include <rewound/verdict/policy.hpp>

namespace rewound::verdict::rules {

/// Whether a capacitor has what is marked on it, little loss, and stands the voltage that it sees.
///
/// @param measured  nothing where it was not measured: a condition, since a run-up shows little of a capacitor that has
/// lost half its value
std::vector<finding> capacitor(const record::capacitor_section& of,
                               const std::optional<checks::capacitor_result>& measured, const policy& rules);

/// The condition of a machine that runs by a capacitor of which the record says nothing.
finding capacitor_not_entered(bool amperes_alone);

/// Nor do they show a rotor that lost bars, where neither rpm nor watts were read.
finding rotor_unseen();

}  // namespace rewound::verdict::rules

#ifndef REWOUND_COMPILED
#include <rewound/verdict/impl/rules/capacitor.hpp>
#endif
