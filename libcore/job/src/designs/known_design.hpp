// SPDX-License-Identifier: MIT
#pragma once

#include <optional>
#include <vector>

#include <Eigen/Core>

#include <rewound/checks/design_match.hpp>
#include <rewound/job/whatif.hpp>
#include <rewound/record/record.hpp>

#include "analysis/machine_kind_of.hpp"

namespace rewound::job {

/// Designs that agree with one record, and what they rest on.
struct known_designs {
  std::vector<checks::matched_design> designs;
  std::vector<Eigen::MatrixXd> covariances;  ///< of each design's log changes, about the design as it was matched
  std::vector<bool> read;                    ///< speeds whose current was read
  whatif_basis basis;
};

/// Cold ohms of a winding as read, brought to how warm it ran where that is known; absent where it was not read.
std::optional<double> warm_ohms(const record::visit_record& in, winding of);

/// @throws base::error as whatif() does
known_designs designs_of(const record::visit_record& in);

}  // namespace rewound::job
