// SPDX-License-Identifier: MIT
#pragma once

#include <optional>
#include <vector>

#include <rewound/checks/coast_down.hpp>
#include <rewound/checks/friction_level.hpp>
#include <rewound/verdict/finding.hpp>
#include <rewound/verdict/policy.hpp>

namespace rewound::verdict::rules {

/// A coast-down, that of an earlier visit and those of good machines, all told at one speed.
struct coast_down_facts {
  checks::coast_down_result now;
  std::optional<checks::coast_down_result> earlier;
  bool earlier_shaft_differs = false;
  std::optional<checks::friction_level_result> good;
  std::size_t good_machines = 0;
  std::optional<double> inertia_kgm2;
};

/// A coast-down that was made: for information, unless an earlier visit or good machines have one to compare with.
std::vector<finding> coast_down(const coast_down_facts& facts, const policy& rules);

}  // namespace rewound::verdict::rules

#ifndef REWOUND_COMPILED
#include <rewound/verdict/impl/rules/coast_down.hpp>
#endif
