// SPDX-License-Identifier: MIT
#pragma once

#include "registers.hpp"

// One number of each of several curves.

namespace rewound::fit {
namespace {

constexpr int lane_count = register_width;

struct lanes {
  doubles of;

  lanes() = default;
  REWOUND_IN_LANES lanes(double value) : of(doubles{} + value) {}
  REWOUND_IN_LANES explicit lanes(doubles values) : of(values) {}

  REWOUND_IN_LANES double operator[](int lane) const { return of[lane]; }
  REWOUND_IN_LANES void set(int lane, double value) { of[lane] = value; }
};

/// What holds or not of each curve.
struct flags {
  mask of;

  REWOUND_IN_LANES bool operator[](int lane) const { return lane_of(of, lane); }
};

REWOUND_IN_LANES flags all_flags() { return {every_lane}; }

REWOUND_IN_LANES lanes operator+(lanes a, lanes b) { return lanes(a.of + b.of); }
REWOUND_IN_LANES lanes operator-(lanes a, lanes b) { return lanes(a.of - b.of); }
REWOUND_IN_LANES lanes operator*(lanes a, lanes b) { return lanes(a.of * b.of); }
REWOUND_IN_LANES lanes operator/(lanes a, lanes b) { return lanes(a.of / b.of); }
REWOUND_IN_LANES lanes operator-(lanes a) { return lanes(-a.of); }
REWOUND_IN_LANES lanes& operator+=(lanes& a, lanes b) { return a = a + b; }
REWOUND_IN_LANES lanes& operator-=(lanes& a, lanes b) { return a = a - b; }
REWOUND_IN_LANES lanes& operator*=(lanes& a, lanes b) { return a = a * b; }

REWOUND_IN_LANES flags operator&(flags a, flags b) { return {static_cast<mask>(a.of & b.of)}; }
REWOUND_IN_LANES flags operator|(flags a, flags b) { return {static_cast<mask>(a.of | b.of)}; }
REWOUND_IN_LANES flags operator~(flags a) { return {static_cast<mask>(~a.of)}; }
REWOUND_IN_LANES flags& operator&=(flags& a, flags b) { return a = a & b; }
REWOUND_IN_LANES flags& operator|=(flags& a, flags b) { return a = a | b; }

/// All comparisons with NaN are false.
REWOUND_IN_LANES flags operator<(lanes a, lanes b) { return {below(a.of, b.of)}; }
REWOUND_IN_LANES flags operator<=(lanes a, lanes b) { return {at_most(a.of, b.of)}; }
REWOUND_IN_LANES flags operator==(lanes a, lanes b) { return {same(a.of, b.of)}; }
REWOUND_IN_LANES flags operator>(lanes a, lanes b) { return b < a; }
REWOUND_IN_LANES flags operator>=(lanes a, lanes b) { return b <= a; }

REWOUND_IN_LANES bool any(flags set) { return any(set.of); }

/// `a` where the flag is set, `b` elsewhere.
REWOUND_IN_LANES lanes choose(flags set, lanes a, lanes b) { return lanes(choose(set.of, a.of, b.of)); }
REWOUND_IN_LANES flags choose(flags set, flags a, flags b) { return (set & a) | (~set & b); }

/// The lesser or the greater of each lane, the second where one is not a number.
REWOUND_IN_LANES lanes lesser(lanes a, lanes b) { return lanes(lesser(a.of, b.of)); }
REWOUND_IN_LANES lanes greater(lanes a, lanes b) { return lanes(greater(a.of, b.of)); }

REWOUND_IN_LANES lanes size_of(lanes a) { return lanes(size_of(a.of)); }
REWOUND_IN_LANES lanes reciprocal(lanes a) { return lanes(reciprocal(a.of)); }
REWOUND_IN_LANES lanes root(lanes a) { return lanes(root(a.of)); }
REWOUND_IN_LANES lanes logarithm(lanes a) { return lanes(logarithm(a.of)); }

/// Finite and not NaN.
REWOUND_IN_LANES flags finite(lanes value) { return size_of(value) < __builtin_inf(); }

/// e^x to a rounding or two, for |x| up to 700; beyond, numbers without meaning.
REWOUND_IN_LANES lanes quick_exponential(lanes x) {
  base::quick_exponential<doubles, bits>(x.of);
  return x;
}

/// e^x of any x; beyond 700 as at 700, and NaN of NaN.
REWOUND_IN_LANES lanes exponential(lanes x) { return quick_exponential(lesser(700.0, greater(-700.0, x))); }

/// e^x for |x| at most small_exponent.
REWOUND_IN_LANES lanes small_exponential(lanes x) {
  lanes p;
  base::exponential_remainder(p.of, x.of);
  return 1.0 + (x + x * x * p);
}

constexpr double small_exponent = 0.3465;

/// e^x to four orders, for a last step that is too small for more.
REWOUND_IN_LANES lanes tiny_exponential(lanes x) { return 1.0 + x * (1.0 + x * (0.5 + (1.0 / 6.0) * x)); }

/// Halley's step from Newton's; far from the top, where the third derivative misleads, changed by half at most.
///
/// @param correction  half of Newton's step times the third derivative over the second
REWOUND_IN_LANES lanes halley_step(lanes newton, lanes correction) {
  return newton * (1.0 - greater(lesser(correction, 0.5), -0.5));
}

REWOUND_IN_LANES lanes load_row(const double* from) { return lanes(load(from)); }
REWOUND_IN_LANES lanes load_count_row(const int* from) { return lanes(load_counts(from)); }
REWOUND_IN_LANES void store(lanes value, double* to) { store(value.of, to); }

REWOUND_IN_LANES void store_two_columns(lanes a, lanes b, double* to) {
  doubles first, second;
  give_two_columns(a.of, b.of, first, second);
  store(first, to);
  store(second, to + register_width);
}

}  // namespace
}  // namespace rewound::fit
