// SPDX-License-Identifier: MIT
#include <rewound/record/impl/date.hpp>
#include <rewound/record/impl/validate.hpp>
