// SPDX-License-Identifier: MIT
// The version that a program was built with, from the headers alone.
#include <iostream>

#include <rewound/version.hpp>

static_assert(REWOUND_VERSION >= 100, "version 0.1 or later");

int main() { std::cout << "rewound " << rewound::version << "\n"; }
