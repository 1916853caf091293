// SPDX-License-Identifier: MIT
#pragma once

#include "kernel_table.hpp"
#include "lanes.hpp"

namespace rewound::fit {
namespace {

constexpr int most = static_cast<int>(most_readings);

/// Numbers outside go to the careful method, so that no product here overflows.
constexpr double least_number = 1e-100;
constexpr double largest_number = 1e100;

REWOUND_IN_LANES bool speakable(double value) { return value >= least_number && value <= largest_number; }

}  // namespace
}  // namespace rewound::fit
