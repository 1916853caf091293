// SPDX-License-Identifier: MIT
#pragma once

#include <memory>
#include <optional>
#include <string>
#include <vector>

#include <rewound/checks/summary.hpp>
#include <rewound/job/learn.hpp>
#include <rewound/verdict/rules/draw.hpp>

#include "judge_parts.hpp"

namespace rewound::job {

/// A machine is not compared with itself: the reference less this very visit, unless that is all it holds. Where
/// nothing is taken out, it is `good` itself, which has to live as long; null without one.
std::shared_ptr<const reference> without_this_visit(const std::optional<reference>& good,
                                                    const record::visit_record& now);

/// The reference pooled, when it speaks of this machine's shaft condition.
///
/// @throws base::error (records_do_not_match) when it is of another model or rating
std::optional<pooled_reference> usable_reference(const record::visit_record& now, const reference* good,
                                                 const verdict::policy& policy);

/// Mean current of good machines at the rated voltage, where the reference knows the speed.
std::optional<units::current> mean_current(const pooled_reference& in, const std::string& speed);

/// What is left of the gain errors of ammeter and voltmeter between this visit and the good machines; relative.
double remaining_current_gain(const visit_facts& now, const reference& good);

/// Levels of all speeds against the good machines or the earlier visit, ratios of neighbouring speeds, and the joint
/// test over speeds and channels.
void compare_with_reference(const visit_facts& now, const reference& good, const pooled_reference& model,
                            const std::vector<checks::summary_input>& channels, verdict::expectation kind,
                            verdict::rules::draw_facts& facts);

}  // namespace rewound::job
