// SPDX-License-Identifier: MIT
#include <rewound/record/impl/date.hpp>
