// SPDX-License-Identifier: MIT
#pragma once

#include <memory>
#include <optional>

#include <rewound/checks/expected_current.hpp>
#include <rewound/job/judge.hpp>
#include <rewound/job/learn.hpp>

#include "judge_parts.hpp"
#include "run_up_analysis.hpp"

namespace rewound::job {

/// A visit and the one before it, with their instruments worked out.
struct compared_visits {
  visit_facts today;
  std::optional<visit_facts> before;
  bool rewound_since =
      false;  ///< another winding than at the earlier visit: nothing of that can be compared, it is left out
};

/// The records must live as long as what is returned.
///
/// @throws base::error (records_do_not_match) for an earlier visit of another machine or rating, or one that is later
compared_visits visits_of(const record::visit_record& now, const std::optional<record::visit_record>& earlier);

/// What a visit's run-ups are looked at beside, and their curves: the start of a judgement and of its pictures.
struct running_basis {
  std::shared_ptr<const reference> beside;  ///< the reference without this very visit
  std::optional<pooled_reference> model;    ///< it pooled, where it speaks of this shaft condition
  std::optional<run_up_analysis> then;      ///< the earlier visit's run-ups, where the shaft was the same
  run_up_analysis today;
};

/// What the currents of a visit are held against, speed by speed: good machines, or else the earlier visit.
struct running_population {
  verdict::expectation by;
  reference machines;
  pooled_reference pooled;
};

/// Absent without either, or where they were read with another shaft condition.
///
/// @param beside  the reference without this very visit
/// @param model   it pooled, where it speaks of this shaft condition
std::optional<running_population> population_beside(const compared_visits& visits,
                                                    const std::shared_ptr<const reference>& beside,
                                                    std::optional<pooled_reference> model,
                                                    const verdict::policy& policy);

/// Where the currents of a speed stand in a pooled reference; absent where it does not know them. The voltage and the
/// meters are the caller's to fill in.
std::optional<checks::expected_current_input> currents_of(const pooled_reference& in, const std::string& speed);

running_basis running_basis_of(const visit_facts& now, const std::optional<visit_facts>& before,
                               const std::optional<reference>& good, const verdict::policy& policy);

}  // namespace rewound::job
