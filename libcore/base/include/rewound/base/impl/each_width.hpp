// SPDX-License-Identifier: MIT

// Includes REWOUND_KERNEL once for each width of registers; see registers.hpp. May be included many times.
#undef REWOUND_IN_LANES
#define REWOUND_WIDTH 2
#define REWOUND_LANES lanes_2
#define REWOUND_IN_LANES inline __attribute__((always_inline))
#define REWOUND_OF_LANES inline
#include REWOUND_KERNEL
#undef REWOUND_WIDTH
#undef REWOUND_LANES
#undef REWOUND_IN_LANES
#undef REWOUND_OF_LANES

#ifdef REWOUND_WIDE_LANES
#define REWOUND_WIDTH 4
#define REWOUND_LANES lanes_4
#define REWOUND_IN_LANES inline __attribute__((always_inline, target("avx2,fma")))
#define REWOUND_OF_LANES inline __attribute__((target("avx2,fma")))
#include REWOUND_KERNEL
#undef REWOUND_WIDTH
#undef REWOUND_LANES
#undef REWOUND_IN_LANES
#undef REWOUND_OF_LANES

#define REWOUND_WIDTH 8
#define REWOUND_LANES lanes_8
#define REWOUND_IN_LANES inline __attribute__((always_inline, target("avx512f,avx512dq,avx512vl,avx512bw,avx2,fma")))
#define REWOUND_OF_LANES inline __attribute__((target("avx512f,avx512dq,avx512vl,avx512bw,avx2,fma")))
#include REWOUND_KERNEL
#undef REWOUND_WIDTH
#undef REWOUND_LANES
#undef REWOUND_IN_LANES
#undef REWOUND_OF_LANES
#endif

#undef REWOUND_KERNEL
// For sources that are compiled with the flags of one width.
#define REWOUND_IN_LANES inline __attribute__((always_inline))
