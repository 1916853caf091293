// SPDX-License-Identifier: MIT
#pragma once

namespace rewound::job {

inline constexpr const char* reference_format = "rewound-reference/1";

}  // namespace rewound::job
