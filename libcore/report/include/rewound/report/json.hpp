// SPDX-License-Identifier: MIT
#pragma once

#include <string>

#include <rewound/job/result.hpp>

namespace rewound::report {

/// The judgement as JSON, format "rewound-result/1", indented, ending in a newline. Numbers that do not exist are
/// null; text that is not valid UTF-8 has its broken bytes replaced.
std::string json_report(const job::result& result);

}  // namespace rewound::report
