// SPDX-License-Identifier: MIT
#pragma once

#include <string>
#include <vector>

#include <rewound/record/record.hpp>
#include <rewound/verdict/policy.hpp>

namespace rewound::verdict {

/// What there is to measure with: as the record says, else as the shop's policy does; empty where neither does. It
/// refers to the visit or the policy.
inline const std::vector<std::string>& equipment_of(const record::visit_section& visit, const policy& rules) {
  return visit.have.empty() ? rules.equipment : visit.have;
}

}  // namespace rewound::verdict
