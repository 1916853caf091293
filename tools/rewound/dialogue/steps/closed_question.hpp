// SPDX-License-Identifier: MIT
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "dialogue/session.hpp"

// Questions whose answers are checked before they are taken: of a list, a name, a whole number.
namespace rewound::tool::dialogue {

/// Whether a name would be taken for a reading: 310, 0,61, 5A.
bool reads_as_number(std::string_view name);

/// One word of a list, shown with numbers unless it is yes or no, asked for until it is one. Enter takes `usual`, where
/// there is one.
///
/// @throws step_left, session_over, look_again, gone
std::string ask_choice(session& at, const asked& prompt, const std::vector<std::string>& words,
                       const std::string& usual = "", const std::optional<step>& here = {});

/// A name of a circuit, asked for until it does not read as a number; empty where Enter was pressed.
std::string ask_name(session& at, const asked& prompt, const std::optional<step>& here);

}  // namespace rewound::tool::dialogue
