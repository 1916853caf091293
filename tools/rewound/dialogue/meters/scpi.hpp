// SPDX-License-Identifier: MIT
#pragma once

#include <string>
#include <string_view>
#include <variant>

namespace rewound::tool::dialogue {

/// Why an instrument gave no number.
struct no_reading {
  std::string why;  ///< in plain words
};

/// One answer to a query: a number in SI units, or why there is none.
///
/// Decimal answers in the forms NR1, NR2, NR3 (IEEE 488.2). 9.9E37 of either sign stands for an overload, 9.91E37 for
/// "not a number" (SCPI-1999 volume 1, 7.2.1; clause from memory, unverified). Of a list the first is taken, unless a
/// comma follows a whole number: "0,205" may be a decimal comma. A unit behind the number is refused: what was measured
/// is set by the query, and a prefix would be guessed.
std::variant<double, no_reading> scpi_answer(std::string_view text);

}  // namespace rewound::tool::dialogue
