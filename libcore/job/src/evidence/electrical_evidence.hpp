// SPDX-License-Identifier: MIT
#pragma once

#include <optional>
#include <vector>

#include <rewound/checks/fault_likelihood.hpp>
#include <rewound/checks/summary.hpp>
#include <rewound/job/learn.hpp>

#include "evidence/evidence_blocks.hpp"
#include "judging/judge_parts.hpp"

namespace rewound::job {

/// Run-ups of one machine beside what designs of its model show when healthy and when faulty.
///
/// Deviations: level, slope and curvature of each block's ln value, then ln ohms of main and auxiliary winding.
struct electrical_evidence {
  std::vector<evidence_block> blocks;
  checks::observed_deviations observed;  ///< of the blocks that were read
  checks::fault_model model;
  double misfit = 1.0;  ///< squared misfit of the likeliest design, times what was allowed for, at least 1
  checks::fault_likelihood_result weighed = {};  ///< what they come to, with a p-value where one is asked

  /// Whether the designs are like this machine; otherwise they say too little of how good ones differ (project's
  /// choice).
  bool designs_agree() const { return misfit < 4.0; }

  Eigen::Index resistance_entry(bool auxiliary) const {
    return static_cast<Eigen::Index>(3 * blocks.size()) + (auxiliary ? 1 : 0);
  }
};

/// Beside good machines of the model.
///
/// Absent when the fastest speed was not read or they do not know it, for a machine outside the machine model, and
/// where no design like it runs.
std::optional<electrical_evidence> evidence_beside(const visit_facts& now, const reference& good,
                                                   const pooled_reference& model,
                                                   const std::vector<checks::summary_input>& channels,
                                                   const verdict::policy& policy);

/// The same beside the machine's own earlier visit.
std::optional<electrical_evidence> evidence_beside_visit(const visit_facts& now, const close_reading& before,
                                                         const std::vector<checks::summary_input>& channels,
                                                         const verdict::policy& policy);

/// Beside the population of fan designs scaled to the nameplate. Absent without a marked current or readings of
/// the fastest speed, and for a machine outside the machine model.
std::optional<electrical_evidence> evidence_by_nameplate(const visit_facts& now,
                                                         const std::vector<checks::summary_input>& channels,
                                                         const verdict::policy& policy);

}  // namespace rewound::job
