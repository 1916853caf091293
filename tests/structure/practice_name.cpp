// SPDX-License-Identifier: MIT
#include <rewound/verdict/policy.hpp>

// A number that practice.table does not have must not compile.
double starts(const rewound::verdict::policy& rules) { return rules.practice.minimum_start.value; }
