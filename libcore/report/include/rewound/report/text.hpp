// SPDX-License-Identifier: MIT
#pragma once

#include <string>
#include <string_view>

#include <rewound/job/result.hpp>

namespace rewound::report {

/// The judgement for a terminal of 24 lines of 80: at most so many lines, each at most 79 characters wide, what matters
/// most last: table of speeds, cautions, conditions, reasons, what to do, decision.
///
/// Control characters of the record are shown as a question mark, so that no field can steer a terminal.
///
/// @param rest  where the reader finds everything
std::string text_report(const job::result& result, std::string_view rest = "--full");

/// Everything, with limits and their sources; the same width.
std::string full_text_report(const job::result& result);

}  // namespace rewound::report
