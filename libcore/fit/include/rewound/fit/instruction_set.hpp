// SPDX-License-Identifier: MIT
#pragma once

#include <string_view>
#include <vector>

namespace rewound::fit {

/// What the solver is compiled for: 2, 4 or 8 curves side by side in a register.
enum class instruction_set { plain, avx2, avx512 };

/// The stable name of an instruction set: plain, avx2 or avx512.
std::string_view name(instruction_set set);

/// Those that this machine runs, the widest last; plain is always among them.
const std::vector<instruction_set>& instruction_sets();

}  // namespace rewound::fit
