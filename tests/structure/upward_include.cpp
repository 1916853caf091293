// SPDX-License-Identifier: MIT
// Must not compile: a check sees nothing of the floor above it.
#include <rewound/verdict/policy.hpp>
