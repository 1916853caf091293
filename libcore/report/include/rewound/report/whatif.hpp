// SPDX-License-Identifier: MIT
#pragma once

#include <string>

#include <rewound/job/whatif.hpp>

namespace rewound::report {

/// The answer as plain text, every line at most 79 characters wide, ending in a newline.
std::string whatif_text(const job::whatif_result& result);

/// The answer as JSON, format "rewound-whatif/1", indented, ending in a newline; changes in percent.
std::string whatif_json(const job::whatif_result& result);

}  // namespace rewound::report
