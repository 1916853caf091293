// SPDX-License-Identifier: MIT
#pragma once

#include <cstdint>

#ifdef __SSE2__
#include <immintrin.h>
#endif

// One number of each of several curves, side by side in a register. Included by one source file for each instruction
// set, which says how many lanes its registers have. Everything here has internal linkage: compiled three times with
// different flags, a function shared by the linker could end in a program on a machine that lacks its instructions.
// For the same reason nothing of the standard library is used that is not inlined for certain.
#ifndef REWOUND_LANES
#error "REWOUND_LANES says how many doubles a register holds: 2, 4 or 8"
#endif

namespace rewound::curves {
namespace {

constexpr int lane_count = REWOUND_LANES;

typedef double lanes __attribute__((vector_size(8 * REWOUND_LANES)));
typedef long long flags __attribute__((vector_size(8 * REWOUND_LANES)));
typedef unsigned long long bits __attribute__((vector_size(8 * REWOUND_LANES)));

#define REWOUND_INLINE inline __attribute__((always_inline))

REWOUND_INLINE lanes all_lanes(double value) { return lanes{} + value; }

REWOUND_INLINE bool any(flags set) {
#if defined(__AVX512F__) && REWOUND_LANES == 8
  return _mm512_movepi64_mask((__m512i)set) != 0;
#elif defined(__AVX2__) && REWOUND_LANES == 4
  return _mm256_movemask_pd((__m256d)set) != 0;
#else
  long long found = 0;
  for (int i = 0; i < lane_count; ++i) found |= set[i];
  return found != 0;
#endif
}

REWOUND_INLINE lanes root(lanes value) {
#if defined(__AVX512F__) && REWOUND_LANES == 8
  return (lanes)_mm512_sqrt_pd((__m512d)value);
#elif defined(__AVX2__) && REWOUND_LANES == 4
  return (lanes)_mm256_sqrt_pd((__m256d)value);
#elif defined(__SSE2__) && REWOUND_LANES == 2
  return (lanes)_mm_sqrt_pd((__m128d)value);
#else
  for (int i = 0; i < lane_count; ++i) value[i] = __builtin_sqrt(value[i]);
  return value;
#endif
}

/// The lesser of each lane, the second where one is not a number.
REWOUND_INLINE lanes lesser(lanes a, lanes b) {
#if defined(__AVX512F__) && REWOUND_LANES == 8
  return (lanes)_mm512_min_pd((__m512d)a, (__m512d)b);
#elif defined(__AVX2__) && REWOUND_LANES == 4
  return (lanes)_mm256_min_pd((__m256d)a, (__m256d)b);
#elif defined(__SSE2__) && REWOUND_LANES == 2
  return (lanes)_mm_min_pd((__m128d)a, (__m128d)b);
#else
  return a < b ? a : b;
#endif
}

/// The greater of each lane, the second where one is not a number.
REWOUND_INLINE lanes greater(lanes a, lanes b) {
#if defined(__AVX512F__) && REWOUND_LANES == 8
  return (lanes)_mm512_max_pd((__m512d)a, (__m512d)b);
#elif defined(__AVX2__) && REWOUND_LANES == 4
  return (lanes)_mm256_max_pd((__m256d)a, (__m256d)b);
#elif defined(__SSE2__) && REWOUND_LANES == 2
  return (lanes)_mm_max_pd((__m128d)a, (__m128d)b);
#else
  return a > b ? a : b;
#endif
}

REWOUND_INLINE lanes size_of(lanes value) { return (lanes)((flags)value & 0x7fffffffffffffffLL); }

/// Finite and not NaN.
REWOUND_INLINE flags finite(lanes value) { return size_of(value) < __builtin_inf(); }

/// e^x to a rounding or two, for |x| up to 700; beyond, numbers without meaning.
///
/// x = k ln 2 + r; the polynomial interpolates (e^r - 1 - r) / r^2 at Chebyshev points of |r| <= ln 2 / 2, which leaves
/// 2e-17 (checked in extended precision when it was made).
REWOUND_INLINE lanes quick_exponential(lanes x) {
  constexpr double whole = 6755399441055744.0;  // 1.5 * 2^52: adding it rounds to whole numbers
  const lanes shifted = x * 1.4426950408889634 + whole;
  const lanes k = shifted - whole;
  const lanes r = (x - k * 0.6931471805598903) - k * 5.497923018708371e-14;
  lanes p = all_lanes(2.510044691827103e-08);
  p = p * r + 2.7620138571500666e-07;
  p = p * r + 2.755726830635798e-06;
  p = p * r + 2.4801521190514285e-05;
  p = p * r + 0.00019841269863184172;
  p = p * r + 0.0013888888917281631;
  p = p * r + 0.00833333333333002;
  p = p * r + 0.04166666666662399;
  p = p * r + 0.16666666666666669;
  p = p * r + 0.5;
  p = 1.0 + (r + r * r * p);
  return (lanes)((bits)p + ((bits)shifted << 52));
}

/// e^x of any x; beyond 700 as at 700, and NaN of NaN.
REWOUND_INLINE lanes exponential(lanes x) {
  return quick_exponential(lesser(all_lanes(700.0), greater(all_lanes(-700.0), x)));
}

/// e^x for |x| at most small_exponent.
REWOUND_INLINE lanes small_exponential(lanes x) {
  lanes p = all_lanes(1.0 / 720.0);
  p = p * x + 1.0 / 120.0;
  p = p * x + 1.0 / 24.0;
  p = p * x + 1.0 / 6.0;
  p = p * x + 0.5;
  p = p * x + 1.0;
  return p * x + 1.0;
}

constexpr double small_exponent = 0.01;  ///< 0.01^7 / 5040 is 2e-18

/// A normal number above 0 as 2^k (1 + f), with 1 + f between sqrt(1/2) and sqrt(2).
struct split_number {
  lanes k;
  lanes f;
};

REWOUND_INLINE split_number split(lanes x) {
  constexpr unsigned long long root_half = 0x3FE6A09E667F3BCDULL;
  constexpr unsigned long long one = 0x3FF0000000000000ULL;
  const bits whole = (bits)x;
  const bits exponent = (whole - root_half + one) >> 52;  // k + 1023
  const lanes mantissa = (lanes)(whole - (exponent << 52) + one);
  const lanes k = (lanes)(exponent | 0x4330000000000000ULL) - (4503599627370496.0 + 1023.0);
  return {k, mantissa - 1.0};
}

/// ln x of a normal number above 0, to a rounding or two.
///
/// 2 artanh(f / (2 + f)); the polynomial interpolates the series' remainder at Chebyshev points, which leaves 5e-18.
REWOUND_INLINE lanes logarithm(lanes x) {
  const auto [k, f] = split(x);
  const lanes s = f / (2.0 + f);
  const lanes z = s * s;
  lanes p = all_lanes(0.14618233921551965);
  p = p * z + 0.1533157716046906;
  p = p * z + 0.18182893473493925;
  p = p * z + 0.2222221107507145;
  p = p * z + 0.2857142862634167;
  p = p * z + 0.39999999999898694;
  p = p * z + 0.666666666666667;
  const lanes of_f = 2.0 * s + s * (z * p);
  return k * 0.6931471805598903 + (of_f + k * 5.497923018708371e-14);
}

/// ln x to 4e-7: enough to start a search, without a division.
REWOUND_INLINE lanes rough_logarithm(lanes x) {
  const auto [k, f] = split(x);
  lanes p = all_lanes(0.1193105443586323);
  p = p * f - 0.1868075142715563;
  p = p * f + 0.20491759649986946;
  p = p * f - 0.24908289184719307;
  p = p * f + 0.33314673838550843;
  p = p * f - 0.5000114503774592;
  p = p * f + 1.0000009643975853;
  return k * 0.6931471805599453 + f * p;
}

// Which elements of two rows stay in the first and in the second when blocks of 1, 2 and 4 columns change places.
#if REWOUND_LANES == 8
#define REWOUND_TRANSPOSE_STEPS 3
constexpr flags kept_of_first[] = {
    {0, 8, 2, 10, 4, 12, 6, 14}, {0, 1, 8, 9, 4, 5, 12, 13}, {0, 1, 2, 3, 8, 9, 10, 11}};
constexpr flags kept_of_second[] = {
    {1, 9, 3, 11, 5, 13, 7, 15}, {2, 3, 10, 11, 6, 7, 14, 15}, {4, 5, 6, 7, 12, 13, 14, 15}};
#elif REWOUND_LANES == 4
#define REWOUND_TRANSPOSE_STEPS 2
constexpr flags kept_of_first[] = {{0, 4, 2, 6}, {0, 1, 4, 5}};
constexpr flags kept_of_second[] = {{1, 5, 3, 7}, {2, 3, 6, 7}};
#else
#define REWOUND_TRANSPOSE_STEPS 1
constexpr flags kept_of_first[] = {{0, 2}};
constexpr flags kept_of_second[] = {{1, 3}};
#endif

/// Rows become columns.
REWOUND_INLINE void transpose(lanes (&rows)[lane_count]) {
#pragma GCC unroll 3
  for (int step = 0; step < REWOUND_TRANSPOSE_STEPS; ++step) {
#pragma GCC unroll 8
    for (int i = 0; i < lane_count; ++i) {
      if ((i >> step) & 1) continue;
      const lanes a = rows[i];
      const lanes b = rows[i + (1 << step)];
      rows[i] = __builtin_shuffle(a, b, kept_of_first[step]);
      rows[i + (1 << step)] = __builtin_shuffle(a, b, kept_of_second[step]);
    }
  }
}

/// Two columns as rows of two: a0 b0 a1 b1 and so on.
struct interleaved {
  lanes first;
  lanes second;
};

REWOUND_INLINE interleaved interleave(lanes a, lanes b) {
#if REWOUND_LANES == 8
  constexpr flags low = {0, 8, 1, 9, 2, 10, 3, 11};
  constexpr flags high = {4, 12, 5, 13, 6, 14, 7, 15};
#elif REWOUND_LANES == 4
  constexpr flags low = {0, 4, 1, 5};
  constexpr flags high = {2, 6, 3, 7};
#else
  constexpr flags low = {0, 2};
  constexpr flags high = {1, 3};
#endif
  return {__builtin_shuffle(a, b, low), __builtin_shuffle(a, b, high)};
}

REWOUND_INLINE lanes load(const double* from) {
  lanes out;
  __builtin_memcpy(&out, from, sizeof out);
  return out;
}

REWOUND_INLINE void store(lanes value, double* to) { __builtin_memcpy(to, &value, sizeof value); }

REWOUND_INLINE void store_two_columns(lanes a, lanes b, double* to) {
  const auto rows = interleave(a, b);
  store(rows.first, to);
  store(rows.second, to + lane_count);
}

}  // namespace
}  // namespace rewound::curves
