// SPDX-License-Identifier: MIT
#pragma once

#include <string>

#include "dialogue/judging.hpp"
#include "dialogue/steps/timed_run.hpp"

namespace rewound::tool::dialogue {

/// Starts or continues a record in a terminal, until the person ends it.
///
/// @returns the exit code that `rewound judge` has for the record as saved
/// @throws base::error for a record that cannot be read, is open elsewhere or does not match what it is judged by
int dialogue(const std::string& path, const judged_by& by, const pace& speed_of_time);

}  // namespace rewound::tool::dialogue
