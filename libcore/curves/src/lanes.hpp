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
  return lanes(scale_by_power(p.of, shifted.of));
}

/// e^x of any x; beyond 700 as at 700, and NaN of NaN.
REWOUND_INLINE lanes exponential(lanes x) {
  return quick_exponential(lesser(700.0, greater(-700.0, x)));
}

/// e^x for |x| at most small_exponent.
REWOUND_INLINE lanes small_exponential(lanes x) { return 1.0 + (x + x * x * exponential_remainder(x)); }

constexpr double small_exponent = 0.3465;

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
