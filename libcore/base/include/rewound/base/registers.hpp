// SPDX-License-Identifier: MIT
#pragma once

#include <cstddef>

#include <rewound/base/lanes.hpp>

#ifdef REWOUND_WIDE_LANES
#include <immintrin.h>
#endif

// Several numbers side by side in a register: base::lanes_2, lanes_4 and lanes_8, each with the same types and
// functions (impl/registers.hpp) for registers of 2, 4 and 8 doubles.
//
// Loops over them are written once, in a file of their own, for the namespace REWOUND_LANES, with REWOUND_IN_LANES
// before every function in it and REWOUND_OF_LANES before those that are called from outside. A header that names the
// file as REWOUND_KERNEL and includes impl/each_width.hpp has them for all widths, each with the instructions of its
// own; which one runs is chosen on the machine, and a header's user needs no compiler flags. A source that is compiled
// with the flags of one set of instructions may use that set's namespace as it is.
//
// Nothing compiled for wide registers is linked where a narrow one was meant: all of it has the width in its name, and
// a kernel uses nothing of the standard library that is not inlined for certain or called as it is everywhere. Widths
// differ in the last digits alone: sums are formed in another order, and products may be fused to them.
//
// GCC clears wide registers behind a kernel from -O2 on, or with -fexpensive-optimizations; left as they are they make
// what runs afterwards up to ten times slower.
#define REWOUND_KERNEL <rewound/base/impl/registers.hpp>
#include <rewound/base/impl/each_width.hpp>
