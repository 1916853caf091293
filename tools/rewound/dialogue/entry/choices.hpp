// SPDX-License-Identifier: MIT
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

// Answers that are one or several of a list: shown with numbers, taken by number or by word.
namespace rewound::tool::dialogue {

struct choice {
  std::string word;        ///< as it is kept
  std::string gloss = {};  ///< what is shown behind it
};

/// "1=series reactor, 2=tapped winding".
std::string numbered(const std::vector<choice>& choices);

/// The word that a line means: as it stands, in capitals or not, with blanks or underscores; or by its number, where
/// the list is shown with numbers. Nothing for any other.
std::optional<std::string> chosen_of(std::string_view line, const std::vector<choice>& choices);

/// Words of a list, as `1 2 insulation_tester`; nothing where one of them is none.
std::optional<std::vector<std::string>> several_of(std::string_view line, const std::vector<choice>& choices);

}  // namespace rewound::tool::dialogue
