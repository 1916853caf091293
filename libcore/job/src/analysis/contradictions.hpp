// SPDX-License-Identifier: MIT
#pragma once

#include <string>
#include <vector>

#include <rewound/record/record.hpp>
#include <rewound/verdict/policy.hpp>
#include <rewound/verdict/rules/readings.hpp>

namespace rewound::job {

/// Entries of one record that cannot both be true, or that nothing real is like.
std::vector<verdict::rules::contradiction> contradictions_of(const record::visit_record& in,
                                                             const verdict::policy& policy);

/// The place of those that find too many amperes per volt on a speed: its readings may be suspect besides.
std::string amperes_per_volt_of(const std::string& speed);

}  // namespace rewound::job
