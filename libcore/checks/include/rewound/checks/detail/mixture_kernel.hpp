// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>
#include <cstddef>
#include <limits>
#include <vector>

#include <rewound/base/registers.hpp>
#include <rewound/checks/detail/laned_numbers.hpp>

// Sums over the alternatives of a mixture, several alternatives side by side in a register.
namespace rewound::checks::detail {

/// What a width of registers offers.
struct mixture_loops {
  void (*squares)(const laned_numbers&, const double*, const double*, double*);
  double (*log_density)(const double*, const double*, std::size_t, const mixture_shape&);
  void (*map)(const laned_numbers&, const double*, const std::vector<std::size_t>&, laned_numbers&);
  void (*exponentials)(double*, std::size_t);
};

}  // namespace rewound::checks::detail

#define REWOUND_KERNEL <rewound/checks/detail/impl/mixture_lanes.hpp>
#include <rewound/base/impl/each_width.hpp>

namespace rewound::checks::detail {

inline const mixture_loops& loops_of(int width) {
#ifdef REWOUND_WIDE_LANES
  if (width == 8) return lanes_8::all_loops;
  if (width == 4) return lanes_4::all_loops;
#endif
  static_cast<void>(width);
  return lanes_2::all_loops;
}

}  // namespace rewound::checks::detail
