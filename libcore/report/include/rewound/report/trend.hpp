// SPDX-License-Identifier: MIT
#pragma once

#include <string>

#include <rewound/job/trend.hpp>

namespace rewound::report {

/// The trend as plain text, every line at most 79 characters wide, ending in a newline.
std::string trend_text(const job::trend_result& result);

/// The trend as a page that stands alone, with a picture of each circuit's visits.
std::string trend_html(const job::trend_result& result);

/// The trend as JSON, format "rewound-trend/1", indented, ending in a newline.
std::string trend_json(const job::trend_result& result);

}  // namespace rewound::report
