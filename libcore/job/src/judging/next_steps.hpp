// SPDX-License-Identifier: MIT
#pragma once

#include <optional>
#include <string>
#include <vector>

#include <rewound/verdict/next_step.hpp>
#include <rewound/verdict/rules/causes.hpp>

#include "evidence/electrical_evidence.hpp"

namespace rewound::job {

/// What next steps are found by; it refers to nothing else, and may outlive the record.
struct next_step_facts {
  std::optional<electrical_evidence> evidence;  ///< what was observed, ohms included
  verdict::rules::cause_facts facts;            ///< what the causes were ranked by
  std::vector<verdict::rules::ranked_cause> causes;
  double watts_uncertainty;  ///< relative, of one reading of this bench's meters
  double rotation_uncertainty;
  bool start_winding_runs;        ///< so that its ohms may tell of the run-up
  bool may_energise;              ///< measurements under power may be proposed
  std::vector<std::string> have;  ///< to measure with; empty: not said
};

next_step_facts next_step_facts_of(const visit_facts& now, std::optional<electrical_evidence> evidence,
                                   verdict::rules::cause_facts facts, std::vector<verdict::rules::ranked_cause> causes,
                                   bool may_energise, const std::vector<std::string>& have);

/// Measurements that were not made, those first that tell most of the cause for their minutes. None whose every outcome
/// leaves the likeliest cause what it is, and none under power while the cold tests do not hold.
std::vector<verdict::next_step> next_steps(const next_step_facts& in);

}  // namespace rewound::job
