// SPDX-License-Identifier: MIT
#pragma once

#include <optional>

#include <rewound/job/judge.hpp>
#include <rewound/job/learn.hpp>

#include "judge_parts.hpp"
#include "run_up_analysis.hpp"

namespace rewound::job {

/// Refuses an earlier visit of another machine or rating, or one that is later.
void expect_same_machine(const record& now, const record& earlier);

/// Another winding than at the earlier visit: nothing of it can be compared.
bool other_winding(const record& now, const record& earlier);

/// What a visit's run-ups are looked at beside, and their curves: the start of a judgement and of its pictures.
struct running_basis {
  std::optional<reference> beside;          ///< the reference without this very visit
  std::optional<pooled_reference> model;    ///< it pooled, where it speaks of this shaft condition
  std::optional<run_up_analysis> then;      ///< the earlier visit's run-ups, where the shaft was the same
  run_up_analysis today;
};

running_basis running_basis_of(const visit_facts& now, const std::optional<visit_facts>& before,
                               const std::optional<reference>& good, const verdict::policy& policy);

}  // namespace rewound::job
