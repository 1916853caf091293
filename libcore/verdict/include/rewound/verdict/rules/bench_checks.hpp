// SPDX-License-Identifier: MIT
#pragma once

#include <map>
#include <string>
#include <vector>

#include <rewound/verdict/finding.hpp>
#include <rewound/verdict/policy.hpp>

namespace rewound::verdict::rules {

/// The yes-or-no checks of the record, by the answers that reference/limits/bench_checks.table calls good, and those
/// that the policy requires, whose good answer is true; others are listed and not judged.
std::vector<finding> bench_checks(const std::map<std::string, bool>& ticked, const policy& rules);

/// A check that no policy needs and that was not made.
finding not_made(check which);

}  // namespace rewound::verdict::rules

#ifndef REWOUND_COMPILED
#include <rewound/verdict/impl/rules/bench_checks.hpp>
#endif
