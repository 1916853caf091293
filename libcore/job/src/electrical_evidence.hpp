// SPDX-License-Identifier: MIT
#pragma once

#include <optional>
#include <vector>

#include <rewound/checks/fault_likelihood.hpp>
#include <rewound/checks/summary.hpp>
#include <rewound/job/learn.hpp>

#include "judge_parts.hpp"

namespace rewound::job {

/// Run-ups of one machine beside what its model's designs show when healthy and when faulty.
///
/// Coefficients: level, slope and curvature of each block's ln value, then ln ohms of main and auxiliary winding.
struct electrical_evidence {
  std::vector<pooled_reference::block_key> blocks;
  checks::observed_deviations observed;  ///< of the blocks that were read
  checks::fault_model model;
  std::vector<machine::fan_design> designs;  ///< that agree with what is known of the model, likeliest first
  std::vector<double> weights;

  Eigen::Index resistance_entry(bool auxiliary) const {
    return static_cast<Eigen::Index>(3 * blocks.size()) + (auxiliary ? 1 : 0);
  }
};

/// Beside good machines of the model, or beside the machine's own earlier visit.
///
/// Absent when nothing was read that they know.
std::optional<electrical_evidence> evidence_beside(const visit_facts& now, const reference& good,
                                                   const pooled_reference& model, bool earlier,
                                                   const std::vector<checks::summary_input>& channels,
                                                   const verdict::policy& policy);

/// Beside the population of fan designs scaled to the nameplate. Absent without a marked current or readings.
std::optional<electrical_evidence> evidence_by_nameplate(const visit_facts& now,
                                                         const std::vector<checks::summary_input>& channels,
                                                         const verdict::policy& policy);

}  // namespace rewound::job
