// SPDX-License-Identifier: MIT
#include <rewound/base/registers.hpp>

#define REWOUND_LANES lanes_4
#include "kernels.hpp"

namespace rewound::fit {

const kernel_table avx2_kernels = REWOUND_ALL_KERNELS;

}  // namespace rewound::fit
