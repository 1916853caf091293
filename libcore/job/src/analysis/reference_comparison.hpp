// SPDX-License-Identifier: MIT
#pragma once

#include <memory>
#include <optional>
#include <string>
#include <vector>

#include <rewound/checks/summary.hpp>
#include <rewound/job/learn.hpp>
#include <rewound/verdict/rules/draw.hpp>

#include "judging/judge_parts.hpp"
#include "analysis/run_up_analysis.hpp"

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

/// One speed's current at the rated voltage beside what is expected of it.
struct speed_level {
  measurement::uncertain<double> percent;  ///< over the expectation, less one
  std::optional<units::current> expected;
  double spread_percent;  ///< standard deviation of a good machine's level, all included
  verdict::level_uncertainty uncertainty;
};

/// Levels of all speeds against the good machines or the earlier visit, ratios of neighbouring speeds, and the joint
/// test over speeds and channels.
struct level_comparison {
  verdict::expectation by;
  std::vector<std::optional<speed_level>> speeds;  ///< as listed; absent where not read or not known
  std::vector<verdict::rules::step_ratio> steps;
  double p_value;
  std::size_t good_machines = 0;  ///< behind a reference
};

/// Absent where they have no speed and channel in common.
std::optional<level_comparison> compare_with_reference(const visit_facts& now, const reference& good,
                                                       const pooled_reference& model, const run_up_analysis& run_ups,
                                                       const channel_analysis& channels, verdict::expectation kind);

}  // namespace rewound::job
