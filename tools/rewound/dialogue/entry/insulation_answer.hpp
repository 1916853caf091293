// SPDX-License-Identifier: MIT
#pragma once

#include <optional>
#include <string_view>

namespace rewound::tool::dialogue {

/// What a person types of an insulation test: `310`, `60 310`, `310 MΩ 60s`, `>2000`, `60 > 2000 Mohm`, `OL`, `60 inf`.
struct insulation_answer {
  std::optional<double> seconds;  ///< where a time was typed
  std::optional<double> megohms;  ///< read, or over range the number that it is at least; nothing for a bare `OL`
  bool over_range = false;        ///< the tester showed no number, only that there is more than its range holds
};

/// Takes an answer apart.
///
/// @throws base::error (out_of_range) for what is neither
insulation_answer parse_insulation(std::string_view text);

}  // namespace rewound::tool::dialogue
