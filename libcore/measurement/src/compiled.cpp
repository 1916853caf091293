// SPDX-License-Identifier: MIT
#include <rewound/measurement/impl/binomial.hpp>
#include <rewound/measurement/impl/distribution.hpp>
