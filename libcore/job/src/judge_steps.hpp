// SPDX-License-Identifier: MIT
#pragma once

#include <memory>
#include <optional>

#include <rewound/job/learn.hpp>
#include <rewound/verdict/rules/draw.hpp>

#include "judge_parts.hpp"
#include "run_up_analysis.hpp"

namespace rewound::job {

/// The order of the speeds, from currents and rpm, and from good machines where a reference is there.
void judge_steps(const visit_facts& now, const run_up_analysis& today, const std::shared_ptr<const reference>& good,
                 const std::optional<pooled_reference>& model, const std::vector<verdict::rules::step_ratio>& ratios,
                 const verdict::policy& policy, result& out);

}  // namespace rewound::job
