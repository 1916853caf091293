// SPDX-License-Identifier: MIT
#pragma once

#include <cstddef>

#include <Eigen/Core>

namespace rewound::checks {

/// One way a machine may be: what its deviations are on average, and what it is worth.
struct alternative {
  std::size_t cause = 0;  ///< index of the cause it belongs to; of no meaning among healthy ones
  double weight = 1.0;    ///< prior share, above 0; shares need not sum to 1 over a list
  Eigen::VectorXd mean;
};

}  // namespace rewound::checks
