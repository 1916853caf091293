// SPDX-License-Identifier: MIT
#define REWOUND_REGISTER 2
#include "kernels.hpp"

namespace rewound::fit {

const kernel_table plain_kernels = REWOUND_ALL_KERNELS;

}  // namespace rewound::fit
