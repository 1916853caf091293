// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <string>

#include <rewound/base/expect.hpp>
#include <rewound/fit/instruction_set.hpp>

#include "kernel_table.hpp"

namespace rewound::fit {

/// The kernels of an instruction set that this machine has.
inline const kernel_table& kernels_of(instruction_set set) {
  const auto& there = instruction_sets();
  base::expect(std::find(there.begin(), there.end(), set) != there.end(), "set", std::string(name(set)),
               "an instruction set that this machine has");
#ifdef REWOUND_X86
  if (set == instruction_set::avx512) return avx512_kernels;
  if (set == instruction_set::avx2) return avx2_kernels;
#endif
  return plain_kernels;
}

}  // namespace rewound::fit
