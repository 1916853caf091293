// SPDX-License-Identifier: MIT
#pragma once

#include <string>

#include <rewound/job/parameters.hpp>

namespace rewound::report {

/// The parameters as plain text, every line at most 79 characters wide, ending in a newline.
std::string parameters_text(const job::parameters_result& result);

/// The parameters as JSON, format "rewound-parameters/1", indented, ending in a newline.
std::string parameters_json(const job::parameters_result& result);

}  // namespace rewound::report
