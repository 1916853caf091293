// SPDX-License-Identifier: MIT
#pragma once

namespace rewound::record {

/// What was done to a winding before a withstand test (IEC 60034-1 9.2).
enum class winding_state { as_new, part_rewound, overhauled, repeat };

}  // namespace rewound::record
