// SPDX-License-Identifier: MIT
// Must compile: what the refused snippets do wrong is the floor they reach for, nothing else.
#include <rewound/checks/supply.hpp>
