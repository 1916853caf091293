// SPDX-License-Identifier: MIT
#pragma once

#include <string>
#include <string_view>

#include <rewound/job/result.hpp>

namespace rewound::report {

/// The judgement as JSON, format "rewound-result/1", indented, ending in a newline. Numbers that do not exist are
/// null; text that is not valid UTF-8 has its broken bytes replaced.
std::string json_report(const job::result& result);

/// The same on one line, with the "file" that the record stands in.
std::string json_line(std::string_view file, const job::result& result);

/// A machine that could not be judged, on one line: its decision is null, and "error" says why.
std::string json_trouble_line(std::string_view machine, std::string_view file, std::string_view trouble);

}  // namespace rewound::report
