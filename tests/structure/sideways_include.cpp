// SPDX-License-Identifier: MIT
// Must not compile: fit and machine are blind to each other.
#include <rewound/machine/conductor.hpp>
