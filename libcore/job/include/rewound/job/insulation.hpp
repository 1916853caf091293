// SPDX-License-Identifier: MIT
#pragma once

#include <vector>

#include <rewound/record/record.hpp>
#include <rewound/verdict/finding.hpp>
#include <rewound/verdict/policy.hpp>

namespace rewound::job {

/// The findings of a judgement on a record's insulation circuits, one circuit after another, and nothing else of it.
std::vector<verdict::finding> insulation_findings(const record::visit_record& in, const verdict::policy& policy);

}  // namespace rewound::job
