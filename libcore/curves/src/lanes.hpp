// SPDX-License-Identifier: MIT
#pragma once

#include "registers.hpp"

// One number of each of several curves. A row takes more than one register where that keeps the machine busy: a fit is one
// long chain of operations, each of which waits for the one before.
#ifndef REWOUND_REGISTERS
#error "REWOUND_REGISTERS says how many registers make a row"
#endif

namespace rewound::curves {
namespace {

constexpr int registers = REWOUND_REGISTERS;
constexpr int lane_count = registers * register_width;

#define REWOUND_EACH_REGISTER _Pragma("GCC unroll 4") for (int h = 0; h < registers; ++h)

struct lanes {
  doubles of[registers];

  lanes() = default;
  REWOUND_INLINE lanes(double value) {
    REWOUND_EACH_REGISTER of[h] = doubles{} + value;
  }

  REWOUND_INLINE double operator[](int lane) const { return of[lane / register_width][lane % register_width]; }
  REWOUND_INLINE void set(int lane, double value) { of[lane / register_width][lane % register_width] = value; }
};

/// What holds or not of each curve.
struct flags {
  mask of[registers];

  REWOUND_INLINE bool operator[](int lane) const { return lane_of(of[lane / register_width], lane % register_width); }
};

REWOUND_INLINE flags all_flags() {
  flags out;
  REWOUND_EACH_REGISTER out.of[h] = every_lane;
  return out;
}

#define REWOUND_OF_LANES(op)                              \
  REWOUND_INLINE lanes operator op(lanes a, lanes b) {    \
    REWOUND_EACH_REGISTER a.of[h] = a.of[h] op b.of[h];   \
    return a;                                             \
  }                                                       \
  REWOUND_INLINE lanes& operator op##=(lanes& a, lanes b) { return a = a op b; }
REWOUND_OF_LANES(+)
REWOUND_OF_LANES(-)
REWOUND_OF_LANES(*)
REWOUND_OF_LANES(/)
#undef REWOUND_OF_LANES

REWOUND_INLINE lanes operator-(lanes a) {
  REWOUND_EACH_REGISTER a.of[h] = -a.of[h];
  return a;
}

#define REWOUND_OF_FLAGS(op)                                                  \
  REWOUND_INLINE flags operator op(flags a, flags b) {                        \
    REWOUND_EACH_REGISTER a.of[h] = static_cast<mask>(a.of[h] op b.of[h]);    \
    return a;                                                                 \
  }                                                                           \
  REWOUND_INLINE flags& operator op##=(flags& a, flags b) { return a = a op b; }
REWOUND_OF_FLAGS(&)
REWOUND_OF_FLAGS(|)
#undef REWOUND_OF_FLAGS

REWOUND_INLINE flags operator~(flags a) {
  REWOUND_EACH_REGISTER a.of[h] = static_cast<mask>(~a.of[h]);
  return a;
}

/// All comparisons with NaN are false.
REWOUND_INLINE flags operator<(lanes a, lanes b) {
  flags out;
  REWOUND_EACH_REGISTER out.of[h] = below(a.of[h], b.of[h]);
  return out;
}
REWOUND_INLINE flags operator<=(lanes a, lanes b) {
  flags out;
  REWOUND_EACH_REGISTER out.of[h] = at_most(a.of[h], b.of[h]);
  return out;
}
REWOUND_INLINE flags operator==(lanes a, lanes b) {
  flags out;
  REWOUND_EACH_REGISTER out.of[h] = same(a.of[h], b.of[h]);
  return out;
}
REWOUND_INLINE flags operator>(lanes a, lanes b) { return b < a; }
REWOUND_INLINE flags operator>=(lanes a, lanes b) { return b <= a; }

REWOUND_INLINE bool any(flags set) {
  bool out = false;
  REWOUND_EACH_REGISTER out |= any(set.of[h]);
  return out;
}

/// `a` where the flag is set, `b` elsewhere.
REWOUND_INLINE lanes choose(flags set, lanes a, lanes b) {
  REWOUND_EACH_REGISTER a.of[h] = choose(set.of[h], a.of[h], b.of[h]);
  return a;
}
REWOUND_INLINE flags choose(flags set, flags a, flags b) { return (set & a) | (~set & b); }

/// The lesser of each lane, the second where one is not a number.
REWOUND_INLINE lanes lesser(lanes a, lanes b) {
  REWOUND_EACH_REGISTER a.of[h] = lesser(a.of[h], b.of[h]);
  return a;
}

/// The greater of each lane, the second where one is not a number.
REWOUND_INLINE lanes greater(lanes a, lanes b) {
  REWOUND_EACH_REGISTER a.of[h] = greater(a.of[h], b.of[h]);
  return a;
}

/// A function of one register, of each.
#define REWOUND_OF_ONE(function)                          \
  REWOUND_INLINE lanes function(lanes a) {                \
    REWOUND_EACH_REGISTER a.of[h] = function(a.of[h]);    \
    return a;                                             \
  }
REWOUND_OF_ONE(size_of)
REWOUND_OF_ONE(reciprocal)
REWOUND_OF_ONE(root)
REWOUND_OF_ONE(logarithm)
#undef REWOUND_OF_ONE

/// Finite and not NaN.
REWOUND_INLINE flags finite(lanes value) { return size_of(value) < __builtin_inf(); }

/// (e^r - 1 - r) / r^2 for |r| up to ln 2 / 2: a polynomial through Chebyshev points, which leaves 2e-17 of e^r (checked in
/// extended precision when it was made).
REWOUND_INLINE lanes exponential_remainder(lanes r) {
  lanes p = 2.510044691827103e-08;
  p = p * r + 2.7620138571500666e-07;
  p = p * r + 2.755726830635798e-06;
  p = p * r + 2.4801521190514285e-05;
  p = p * r + 0.00019841269863184172;
  p = p * r + 0.0013888888917281631;
  p = p * r + 0.00833333333333002;
  p = p * r + 0.04166666666662399;
  p = p * r + 0.16666666666666669;
  return p * r + 0.5;
}

/// e^x to a rounding or two, for |x| up to 700; beyond, numbers without meaning. x = k ln 2 + r.
REWOUND_INLINE lanes quick_exponential(lanes x) {
  constexpr double whole = 6755399441055744.0;  // 1.5 * 2^52: adding it rounds to whole numbers
  const lanes shifted = x * 1.4426950408889634 + whole;
  const lanes k = shifted - whole;
  const lanes r = (x - k * 0.6931471805598903) - k * 5.497923018708371e-14;
  const lanes p = 1.0 + (r + r * r * exponential_remainder(r));
  lanes out;
  REWOUND_EACH_REGISTER out.of[h] = scale_by_power(p.of[h], shifted.of[h]);
  return out;
}

/// e^x of any x; beyond 700 as at 700, and NaN of NaN.
REWOUND_INLINE lanes exponential(lanes x) {
  return quick_exponential(lesser(700.0, greater(-700.0, x)));
}

/// e^x for |x| at most small_exponent.
REWOUND_INLINE lanes small_exponential(lanes x) { return 1.0 + (x + x * x * exponential_remainder(x)); }

constexpr double small_exponent = 0.3465;

REWOUND_INLINE lanes load_row(const double* from) {
  lanes out;
  REWOUND_EACH_REGISTER out.of[h] = load(from + h * register_width);
  return out;
}

REWOUND_INLINE void store(lanes value, double* to) {
  REWOUND_EACH_REGISTER store(value.of[h], to + h * register_width);
}

REWOUND_INLINE lanes load_count_row(const int* from) {
  lanes out;
  REWOUND_EACH_REGISTER out.of[h] = load_counts(from + h * register_width);
  return out;
}

REWOUND_INLINE void store_two_columns(lanes a, lanes b, double* to) {
  REWOUND_EACH_REGISTER {
    doubles first, second;
    give_two_columns(a.of[h], b.of[h], first, second);
    store(first, to + 2 * h * register_width);
    store(second, to + (2 * h + 1) * register_width);
  }
}

}  // namespace
}  // namespace rewound::curves
