// SPDX-License-Identifier: MIT
#pragma once

#include <string>

#include <rewound/job/result.hpp>

namespace rewound::report {

/// The judgement as plain text, every line at most 79 characters wide, ending in a newline.
///
/// Control characters of the record are shown as a question mark, so that no field can steer a terminal.
std::string text_report(const job::result& result);

}  // namespace rewound::report
