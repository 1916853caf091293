// SPDX-License-Identifier: MIT
#pragma once

#include <cstddef>
#include <vector>

#include <rewound/measurement/uncertain.hpp>
#include <rewound/units/quantity.hpp>

namespace rewound::checks {

/// Sections that should be equal, all at one temperature. The uncertainties are of what differs from reading to reading
/// (digits, temperature): a gain error common to all cancels.
struct section_balance_input {
  std::vector<measurement::uncertain<units::resistance>> sections;
};

struct section_balance_result {
  units::resistance mean;
  std::size_t farthest = 0;                          ///< section that lies farthest from the mean
  measurement::uncertain<double> deviation_percent;  ///< of that section, with its sign
};

/// The largest deviation from the mean, in percent of the mean (the measure of AR100-2020's resistance test).
///
/// @throws base::error (precondition) for fewer than two sections
section_balance_result section_balance(const section_balance_input& in);

}  // namespace rewound::checks

#ifndef REWOUND_COMPILED
#include <rewound/checks/impl/section_balance.hpp>
#endif
