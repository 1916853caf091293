// SPDX-License-Identifier: MIT
#define REWOUND_REGISTER 8
#include "kernels.hpp"

namespace rewound::fit {

const kernel_table avx512_kernels = REWOUND_ALL_KERNELS;

}  // namespace rewound::fit
