// SPDX-License-Identifier: MIT
#define REWOUND_REGISTER 4
#include "kernels.hpp"

namespace rewound::fit {

const kernel_table avx2_kernels = REWOUND_ALL_KERNELS;

}  // namespace rewound::fit
