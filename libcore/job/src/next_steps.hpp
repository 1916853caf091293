// SPDX-License-Identifier: MIT
#pragma once

#include <optional>
#include <vector>

#include <rewound/verdict/next_step.hpp>
#include <rewound/verdict/rules/causes.hpp>

#include "electrical_evidence.hpp"

namespace rewound::job {

/// Measurements that were not made, those first that tell most of the cause for their minutes.
///
/// @param evidence  what was observed, ohms included
/// @param facts     what the causes were ranked by
std::vector<verdict::next_step> next_steps(const visit_facts& now, const std::optional<electrical_evidence>& evidence,
                                           const verdict::rules::cause_facts& facts,
                                           const std::vector<verdict::rules::ranked_cause>& causes);

}  // namespace rewound::job
