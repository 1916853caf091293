// SPDX-License-Identifier: MIT
#pragma once

#include <cstddef>
#include <optional>
#include <vector>

#include <rewound/checks/coast_down.hpp>
#include <rewound/checks/friction_level.hpp>
#include <rewound/record/record.hpp>
#include <rewound/verdict/finding.hpp>
#include <rewound/verdict/policy.hpp>

namespace rewound::verdict::rules {

/// A coast-down beside that of an earlier visit and those of good machines, all told at one speed.
struct compared_coast_downs {
  checks::coast_down_result now;
  std::optional<checks::coast_down_result> earlier;
  bool earlier_shaft_differs = false;
  std::optional<checks::friction_level_result> good;
  std::size_t good_machines = 0;
};

/// A coast-down that was made: for information, unless an earlier visit or good machines have one to compare with.
std::vector<finding> coast_down(const record::coast_down_section& of, const compared_coast_downs& compared,
                                const policy& rules);

}  // namespace rewound::verdict::rules

#ifndef REWOUND_COMPILED
#include <rewound/verdict/impl/rules/coast_down.hpp>
#endif
