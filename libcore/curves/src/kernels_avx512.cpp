// SPDX-License-Identifier: MIT
#define REWOUND_REGISTER 8
#include "kernels.hpp"

namespace rewound::curves {

const kernel_table avx512_kernels = REWOUND_ALL_KERNELS;

}  // namespace rewound::curves
