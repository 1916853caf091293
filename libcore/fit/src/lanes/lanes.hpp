// SPDX-License-Identifier: MIT
#pragma once

#include <rewound/base/registers.hpp>

// The registers that the kernels of this source use. All of a kernel has internal linkage: compiled three times with
// different flags, a function shared by the linker could end in a program on a machine that lacks its instructions.
#ifndef REWOUND_LANES
#error "REWOUND_LANES says which of base::lanes_2, lanes_4 and lanes_8 the kernels use"
#endif

namespace rewound::fit {
namespace {

using namespace base::REWOUND_LANES;

}  // namespace
}  // namespace rewound::fit
