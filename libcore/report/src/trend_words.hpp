// SPDX-License-Identifier: MIT
#pragma once

#include <string>
#include <vector>

#include <rewound/job/trend.hpp>

namespace rewound::report {

/// What to do about findings of a trend that stand in the way.
std::vector<std::string> trend_advice(const job::trend_result& in);

std::vector<std::string> trend_cautions();

}  // namespace rewound::report
