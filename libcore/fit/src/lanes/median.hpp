// SPDX-License-Identifier: MIT
#pragma once

#include "readings.hpp"

namespace rewound::fit {
namespace {

REWOUND_IN_LANES void order(lanes& a, lanes& b) {
  const lanes low = lesser(a, b);
  b = greater(a, b);
  a = low;
}

/// Sorts each lane. Source: merge exchange, D. E. Knuth, The Art of Computer Programming 3, 2nd ed., 5.2.2 M.
REWOUND_IN_LANES void sort(lanes* values, int count) {
  int top = 1;
  while (2 * top < count) top *= 2;
  for (int p = top; p > 0; p /= 2) {
    int q = top;
    int r = 0;
    int d = p;
    while (true) {
      for (int i = 0; i < count - d; ++i)
        if ((i & p) == r) order(values[i], values[i + d]);
      if (q == p) break;
      d = q - p;
      q /= 2;
      r = p;
    }
  }
}

/// In place of what is absent.
constexpr double absent_square = 1e300;

/// Median of the roots of some squares; sorts them.
///
/// @param alike  how many each curve has, where all have as many, else 0
REWOUND_IN_LANES lanes median_root(lanes* squares, int readings, int alike, lanes count) {
  sort(squares, readings);
  if (alike > 0) return 0.5 * (root(squares[(alike - 1) / 2]) + root(squares[alike / 2]));
  lanes below{}, above{};
  for (int i = 0; i < readings; ++i) {
    const lanes twice = 2.0 * i + 1.0;  // the middle of n is at 2 i + 1 = n, or between n - 1 and n + 1
    below = choose((twice == count) | (twice == count - 1.0), squares[i], below);
    above = choose((twice == count) | (twice == count + 1.0), squares[i], above);
  }
  return 0.5 * (root(below) + root(above));
}

/// Huber's k = 1.345 over the scale 1.4826 median |z|.
constexpr double huber_bend = 1.345 * 1.4826;

}  // namespace
}  // namespace rewound::fit
