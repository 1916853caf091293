// SPDX-License-Identifier: MIT
#pragma once

#include "registers.hpp"

// One number of each of several curves.

namespace rewound::curves {
namespace {

constexpr int lane_count = register_width;

struct lanes {
  doubles of;

  lanes() = default;
  REWOUND_INLINE lanes(double value) : of(doubles{} + value) {}
  REWOUND_INLINE explicit lanes(doubles values) : of(values) {}

  REWOUND_INLINE double operator[](int lane) const { return of[lane]; }
  REWOUND_INLINE void set(int lane, double value) { of[lane] = value; }
};

/// What holds or not of each curve.
struct flags {
  mask of;

  REWOUND_INLINE bool operator[](int lane) const { return lane_of(of, lane); }
};

REWOUND_INLINE flags all_flags() { return {every_lane}; }

REWOUND_INLINE lanes operator+(lanes a, lanes b) { return lanes(a.of + b.of); }
REWOUND_INLINE lanes operator-(lanes a, lanes b) { return lanes(a.of - b.of); }
REWOUND_INLINE lanes operator*(lanes a, lanes b) { return lanes(a.of * b.of); }
REWOUND_INLINE lanes operator/(lanes a, lanes b) { return lanes(a.of / b.of); }
REWOUND_INLINE lanes operator-(lanes a) { return lanes(-a.of); }
REWOUND_INLINE lanes& operator+=(lanes& a, lanes b) { return a = a + b; }
REWOUND_INLINE lanes& operator-=(lanes& a, lanes b) { return a = a - b; }
REWOUND_INLINE lanes& operator*=(lanes& a, lanes b) { return a = a * b; }

REWOUND_INLINE flags operator&(flags a, flags b) { return {static_cast<mask>(a.of & b.of)}; }
REWOUND_INLINE flags operator|(flags a, flags b) { return {static_cast<mask>(a.of | b.of)}; }
REWOUND_INLINE flags operator~(flags a) { return {static_cast<mask>(~a.of)}; }
REWOUND_INLINE flags& operator&=(flags& a, flags b) { return a = a & b; }
REWOUND_INLINE flags& operator|=(flags& a, flags b) { return a = a | b; }

/// All comparisons with NaN are false.
REWOUND_INLINE flags operator<(lanes a, lanes b) { return {below(a.of, b.of)}; }
REWOUND_INLINE flags operator<=(lanes a, lanes b) { return {at_most(a.of, b.of)}; }
REWOUND_INLINE flags operator==(lanes a, lanes b) { return {same(a.of, b.of)}; }
REWOUND_INLINE flags operator>(lanes a, lanes b) { return b < a; }
REWOUND_INLINE flags operator>=(lanes a, lanes b) { return b <= a; }

REWOUND_INLINE bool any(flags set) { return any(set.of); }

/// `a` where the flag is set, `b` elsewhere.
REWOUND_INLINE lanes choose(flags set, lanes a, lanes b) { return lanes(choose(set.of, a.of, b.of)); }
REWOUND_INLINE flags choose(flags set, flags a, flags b) { return (set & a) | (~set & b); }

/// The lesser or the greater of each lane, the second where one is not a number.
REWOUND_INLINE lanes lesser(lanes a, lanes b) { return lanes(lesser(a.of, b.of)); }
REWOUND_INLINE lanes greater(lanes a, lanes b) { return lanes(greater(a.of, b.of)); }

REWOUND_INLINE lanes size_of(lanes a) { return lanes(size_of(a.of)); }
REWOUND_INLINE lanes reciprocal(lanes a) { return lanes(reciprocal(a.of)); }
REWOUND_INLINE lanes root(lanes a) { return lanes(root(a.of)); }
REWOUND_INLINE lanes logarithm(lanes a) { return lanes(logarithm(a.of)); }

/// Finite and not NaN.
REWOUND_INLINE flags finite(lanes value) { return size_of(value) < __builtin_inf(); }

/// e^x to a rounding or two, for |x| up to 700; beyond, numbers without meaning.
REWOUND_INLINE lanes quick_exponential(lanes x) {
  base::quick_exponential<doubles, bits>(x.of);
  return x;
}

/// e^x of any x; beyond 700 as at 700, and NaN of NaN.
REWOUND_INLINE lanes exponential(lanes x) { return quick_exponential(lesser(700.0, greater(-700.0, x))); }

/// e^x for |x| at most small_exponent.
REWOUND_INLINE lanes small_exponential(lanes x) {
  lanes p;
  base::exponential_remainder(p.of, x.of);
  return 1.0 + (x + x * x * p);
}

constexpr double small_exponent = 0.3465;

/// e^x to four orders, for a last step that is too small for more.
REWOUND_INLINE lanes tiny_exponential(lanes x) { return 1.0 + x * (1.0 + x * (0.5 + (1.0 / 6.0) * x)); }

/// Halley's step from Newton's; far from the top, where the third derivative misleads, changed by half at most.
///
/// @param correction  half of Newton's step times the third derivative over the second
REWOUND_INLINE lanes halley_step(lanes newton, lanes correction) {
  return newton * (1.0 - greater(lesser(correction, 0.5), -0.5));
}

REWOUND_INLINE lanes load_row(const double* from) { return lanes(load(from)); }
REWOUND_INLINE lanes load_count_row(const int* from) { return lanes(load_counts(from)); }
REWOUND_INLINE void store(lanes value, double* to) { store(value.of, to); }

REWOUND_INLINE void store_two_columns(lanes a, lanes b, double* to) {
  doubles first, second;
  give_two_columns(a.of, b.of, first, second);
  store(first, to);
  store(second, to + register_width);
}

}  // namespace
}  // namespace rewound::curves
