// SPDX-License-Identifier: MIT
#pragma once

namespace rewound::fit::detail {

// Powers m that a magnetising curve may take: beyond them it means nothing (common practice, no source). With weights,
// where a and b have any sign, it may lie nearer to a straight line.
inline constexpr double lowest_power = 2.0;
inline constexpr double lowest_weighted_power = 1.2;
inline constexpr double highest_power = 12.0;

}  // namespace rewound::fit::detail
