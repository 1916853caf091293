// SPDX-License-Identifier: MIT
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "session.hpp"

// Questions whose answers are checked before they are taken: of a list, a name, a whole number.
namespace rewound::tool::dialogue {

/// The word of a list that a line means, in capitals or not; `y` and `n` stand for yes and no. Nothing for any other.
std::optional<std::string> chosen_of(std::string_view line, const std::vector<std::string>& words);

/// Whether a name would be taken for a reading: 310, 0,61, 5A.
bool reads_as_number(std::string_view name);

/// One word of a list, asked for until it is one. Enter takes `usual`, where there is one.
///
/// @throws step_left, session_over, look_again, gone
std::string ask_choice(session& at, const std::string& prompt, const std::vector<std::string>& words,
                       const std::string& usual = "", const std::optional<step>& here = {});

/// A name of a circuit, section or position, asked for until it does not read as a number; empty where Enter was
/// pressed.
std::string ask_name(session& at, const std::string& prompt, const std::optional<step>& here);

/// A whole number without unit, asked for until it is one.
int ask_whole(session& at, const std::string& prompt, int usual);

}  // namespace rewound::tool::dialogue
