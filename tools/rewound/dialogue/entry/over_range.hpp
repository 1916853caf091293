// SPDX-License-Identifier: MIT
#pragma once

#include <optional>
#include <string>
#include <string_view>

// A meter that shows no number, only that there is more than its range holds: `>2000`, `60 > 2000 Mohm`, `120 OL`.
namespace rewound::tool::dialogue {

struct over_range_text {
  std::string before;  ///< what was typed before the sign: a time, a voltage, or nothing
  std::string least;   ///< the number behind it; empty for a bare `OL`
};

/// A line that says so, taken apart; nothing for any other.
std::optional<over_range_text> over_range_in(std::string_view text);

}  // namespace rewound::tool::dialogue
