// SPDX-License-Identifier: MIT
#pragma once

#include <vector>

#include <rewound/record/record.hpp>
#include <rewound/verdict/finding.hpp>
#include <rewound/verdict/policy.hpp>

namespace rewound::verdict::rules {

/// What hand, eye and ear found: the way it turns, starts that needed a push, noise, play of the shaft.
std::vector<finding> mechanics(const record::visit_record& in, const policy& rules);

}  // namespace rewound::verdict::rules

#ifndef REWOUND_COMPILED
#include <rewound/verdict/impl/rules/mechanics.hpp>
#endif
