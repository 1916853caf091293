// SPDX-License-Identifier: MIT
#pragma once

// The floors up to verdict work by inclusion alone. A header declares; its implementation stands in impl/ and is
// included behind it, or, where a target rewound::<floor>_compiled is linked (it defines REWOUND_COMPILED), compiled
// once in that library.
#ifdef REWOUND_COMPILED
#define REWOUND_INLINE
#else
#define REWOUND_INLINE inline
#endif
