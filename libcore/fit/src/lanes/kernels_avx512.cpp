// SPDX-License-Identifier: MIT
#include <rewound/base/registers.hpp>

#define REWOUND_LANES lanes_8
#include "kernels.hpp"

namespace rewound::fit {

const kernel_table avx512_kernels = REWOUND_ALL_KERNELS;

}  // namespace rewound::fit
