// SPDX-License-Identifier: MIT
#pragma once

// How many numbers lie side by side in a register of this machine. What is done with them: registers.hpp.
namespace rewound::base {

#if defined(__x86_64__) && defined(__GNUC__)
#define REWOUND_WIDE_LANES
#endif

/// The widest that widest_lanes() gives on any machine.
inline constexpr int most_lanes = 8;

/// Lanes of this machine's registers: 2, 4 or 8.
inline int widest_lanes() {
#ifdef REWOUND_WIDE_LANES
  static const int width = [] {
    const bool eight = __builtin_cpu_supports("avx512f") && __builtin_cpu_supports("avx512dq") &&
                       __builtin_cpu_supports("avx512vl") && __builtin_cpu_supports("avx512bw");
    if (eight) return 8;
    return __builtin_cpu_supports("avx2") && __builtin_cpu_supports("fma") ? 4 : 2;
  }();
  return width;
#else
  return 2;
#endif
}

}  // namespace rewound::base
