// SPDX-License-Identifier: MIT
#pragma once

#ifdef __SSE2__
#include <immintrin.h>
#endif

// Registers of one instruction set. Included by one source file for each set, which says how many doubles a register
// holds. Everything here has internal linkage: compiled three times with different
// flags, a function shared by the linker could end in a program on a machine that lacks its instructions. For the same
// reason nothing of the standard library is used that is not inlined for certain.
#ifndef REWOUND_REGISTER
#error "REWOUND_REGISTER says how many doubles a register holds: 2, 4 or 8"
#endif

#include <rewound/base/lanes.hpp>

namespace rewound::fit {
namespace {

constexpr int register_width = REWOUND_REGISTER;

typedef double doubles __attribute__((vector_size(8 * REWOUND_REGISTER)));
typedef long long indices __attribute__((vector_size(8 * REWOUND_REGISTER)));
typedef unsigned long long bits __attribute__((vector_size(8 * REWOUND_REGISTER)));

#if REWOUND_REGISTER == 8
typedef __mmask8 mask;

constexpr mask every_lane = 0xff;

REWOUND_IN_LANES mask below(doubles a, doubles b) { return _mm512_cmp_pd_mask((__m512d)a, (__m512d)b, _CMP_LT_OQ); }
REWOUND_IN_LANES mask at_most(doubles a, doubles b) { return _mm512_cmp_pd_mask((__m512d)a, (__m512d)b, _CMP_LE_OQ); }
REWOUND_IN_LANES mask same(doubles a, doubles b) { return _mm512_cmp_pd_mask((__m512d)a, (__m512d)b, _CMP_EQ_OQ); }
REWOUND_IN_LANES doubles choose(mask set, doubles a, doubles b) {
  return (doubles)_mm512_mask_blend_pd(set, (__m512d)b, (__m512d)a);
}
REWOUND_IN_LANES bool any(mask set) { return set != 0; }
REWOUND_IN_LANES bool lane_of(mask set, int lane) { return (set >> lane) & 1; }
REWOUND_IN_LANES doubles lesser(doubles a, doubles b) { return (doubles)_mm512_min_pd((__m512d)a, (__m512d)b); }
REWOUND_IN_LANES doubles greater(doubles a, doubles b) { return (doubles)_mm512_max_pd((__m512d)a, (__m512d)b); }
REWOUND_IN_LANES bits greater(bits a, bits b) { return (bits)_mm512_max_epu64((__m512i)a, (__m512i)b); }
REWOUND_IN_LANES bool any_above(bits a, unsigned long long limit) {
  return _mm512_cmpgt_epu64_mask((__m512i)a, _mm512_set1_epi64(static_cast<long long>(limit))) != 0;
}
#else
typedef indices mask;

constexpr mask every_lane = mask{} - 1;

REWOUND_IN_LANES mask below(doubles a, doubles b) { return a < b; }
REWOUND_IN_LANES mask at_most(doubles a, doubles b) { return a <= b; }
REWOUND_IN_LANES mask same(doubles a, doubles b) { return a == b; }
REWOUND_IN_LANES doubles choose(mask set, doubles a, doubles b) { return set ? a : b; }
REWOUND_IN_LANES bool any(mask set) {
#ifdef __AVX2__
  return _mm256_movemask_pd((__m256d)set) != 0;
#else
  long long found = 0;
  for (int i = 0; i < register_width; ++i) found |= set[i];
  return found != 0;
#endif
}
REWOUND_IN_LANES bool lane_of(mask set, int lane) { return set[lane] != 0; }

/// The second where one is not a number, as the instructions have it.
REWOUND_IN_LANES doubles lesser(doubles a, doubles b) {
#ifdef __AVX2__
  return (doubles)_mm256_min_pd((__m256d)a, (__m256d)b);
#elif defined(__SSE2__)
  return (doubles)_mm_min_pd((__m128d)a, (__m128d)b);
#else
  return a < b ? a : b;
#endif
}

REWOUND_IN_LANES doubles greater(doubles a, doubles b) {
#ifdef __AVX2__
  return (doubles)_mm256_max_pd((__m256d)a, (__m256d)b);
#elif defined(__SSE2__)
  return (doubles)_mm_max_pd((__m128d)a, (__m128d)b);
#else
  return a > b ? a : b;
#endif
}

REWOUND_IN_LANES bits greater(bits a, bits b) { return a > b ? a : b; }
REWOUND_IN_LANES bool any_above(bits a, unsigned long long limit) { return any(a > limit); }
#endif

/// 1 / x to a rounding or two; the inverse of 0 or infinity need not be a number.
REWOUND_IN_LANES doubles reciprocal(doubles x) {
#if REWOUND_REGISTER == 8
  doubles y = (doubles)_mm512_rcp14_pd((__m512d)x);  // Newton's steps double its 14 bits, and block no other division
  y += y * (1.0 - x * y);
  return y + y * (1.0 - x * y);
#else
  return 1.0 / x;
#endif
}

/// The square root to a rounding or two; NaN of NaN. Of what is not above 0 it is 0 or not a number.
REWOUND_IN_LANES doubles root(doubles x) {
#if REWOUND_REGISTER == 8
  doubles y = (doubles)_mm512_rsqrt14_pd((__m512d)x);
  const doubles half = 0.5 * x;
  y += y * (0.5 - half * y * y);
  y += y * (0.5 - half * y * y);
  const doubles near = x * y;
  return choose(at_most(x, doubles{}), doubles{}, near + 0.5 * y * (x - near * near));
#elif defined(__AVX2__)
  return (doubles)_mm256_sqrt_pd((__m256d)x);
#elif defined(__SSE2__)
  return (doubles)_mm_sqrt_pd((__m128d)x);
#else
  for (int i = 0; i < register_width; ++i) x[i] = __builtin_sqrt(x[i]);
  return x;
#endif
}

REWOUND_IN_LANES doubles size_of(doubles x) { return (doubles)((bits)x & 0x7fffffffffffffffULL); }

#if REWOUND_REGISTER == 8
/// ln x of a normal number above 0, to a rounding or two.
///
/// x = 2^k m; with r near 1 / m from a table of sixteen, m r = 1 + f with |f| up to 1/32 needs no division. The
/// polynomial interpolates (ln(1 + f) - f) / f^2 at Chebyshev points, which leaves 1e-18.
REWOUND_IN_LANES doubles logarithm(doubles x) {
  constexpr doubles inverse_low = {0.96875, 0.9140625,  0.86328125, 0.8203125,
                                   0.78125, 0.74609375, 0.7109375,  0.6796875};
  constexpr doubles inverse_high = {0.65234375, 0.62890625, 0.60546875, 0.58203125,
                                    0.5625,     0.54296875, 0.5234375,  0.5078125};
  constexpr doubles of_low = {0.0317486983145803,  0.08985632912186105, 0.14701474296180966, 0.1980699137620938,
                              0.24686007793152578, 0.2929040164329326,  0.34117075740276714, 0.38612214526503347};
  constexpr doubles of_high = {0.42718363206280735, 0.4637730794950995, 0.5017523275603158, 0.5412311385341033,
                               0.5753641449035618,  0.6107035113488707, 0.6473376445286511, 0.6776429940239801};
  const __m512i sixteenth = (__m512i)((bits)x >> 48);  // its low four bits choose
  const doubles k = (doubles)_mm512_getexp_pd((__m512d)x);
  const doubles m = (doubles)_mm512_getmant_pd((__m512d)x, _MM_MANT_NORM_1_2, _MM_MANT_SIGN_src);
  const doubles r = (doubles)_mm512_permutex2var_pd((__m512d)inverse_low, sixteenth, (__m512d)inverse_high);
  const doubles of_r = (doubles)_mm512_permutex2var_pd((__m512d)of_low, sixteenth, (__m512d)of_high);
  const doubles f = (doubles)_mm512_fmsub_pd((__m512d)m, (__m512d)r, _mm512_set1_pd(1.0));  // exact: r has few digits
  doubles p = doubles{} + 0.11128886864487278;
  p = p * f - 0.1251955312619569;
  p = p * f + 0.1428570343295423;
  p = p * f - 0.16666654728257144;
  p = p * f + 0.20000000002119614;
  p = p * f - 0.2500000000233204;
  p = p * f + 0.3333333333333327;
  p = p * f - 0.4999999999999993;
  return k * 0.6931471805598903 + ((of_r + k * 5.497923018708371e-14) + (f + f * f * p));
}
#else
/// ln x of a normal number above 0, to a rounding or two.
REWOUND_IN_LANES doubles logarithm(doubles x) {
  base::to_logarithm<doubles, bits>(x);
  return x;
}
#endif

// Which elements of two rows stay in the first and in the second when blocks of 1, 2 and 4 columns change places.
#if REWOUND_REGISTER == 8
#define REWOUND_TRANSPOSE_STEPS 3
constexpr indices kept_of_first[] = {
    {0, 8, 2, 10, 4, 12, 6, 14}, {0, 1, 8, 9, 4, 5, 12, 13}, {0, 1, 2, 3, 8, 9, 10, 11}};
constexpr indices kept_of_second[] = {
    {1, 9, 3, 11, 5, 13, 7, 15}, {2, 3, 10, 11, 6, 7, 14, 15}, {4, 5, 6, 7, 12, 13, 14, 15}};
#elif REWOUND_REGISTER == 4
#define REWOUND_TRANSPOSE_STEPS 2
constexpr indices kept_of_first[] = {{0, 4, 2, 6}, {0, 1, 4, 5}};
constexpr indices kept_of_second[] = {{1, 5, 3, 7}, {2, 3, 6, 7}};
#else
#define REWOUND_TRANSPOSE_STEPS 1
constexpr indices kept_of_first[] = {{0, 2}};
constexpr indices kept_of_second[] = {{1, 3}};
#endif

/// Rows become columns.
REWOUND_IN_LANES void transpose(doubles (&rows)[register_width]) {
#pragma GCC unroll 3
  for (int step = 0; step < REWOUND_TRANSPOSE_STEPS; ++step) {
#pragma GCC unroll 8
    for (int i = 0; i < register_width; ++i) {
      if ((i >> step) & 1) continue;
      const doubles a = rows[i];
      const doubles b = rows[i + (1 << step)];
      rows[i] = __builtin_shuffle(a, b, kept_of_first[step]);
      rows[i + (1 << step)] = __builtin_shuffle(a, b, kept_of_second[step]);
    }
  }
}

/// Rows of two become two columns.
REWOUND_IN_LANES void take_two_columns(doubles first, doubles second, doubles& a, doubles& b) {
#if REWOUND_REGISTER == 8
  constexpr indices even = {0, 2, 4, 6, 8, 10, 12, 14};
  constexpr indices odd = {1, 3, 5, 7, 9, 11, 13, 15};
#elif REWOUND_REGISTER == 4
  constexpr indices even = {0, 2, 4, 6};
  constexpr indices odd = {1, 3, 5, 7};
#else
  constexpr indices even = {0, 2};
  constexpr indices odd = {1, 3};
#endif
  a = __builtin_shuffle(first, second, even);
  b = __builtin_shuffle(first, second, odd);
}

/// Two columns become rows of two: a0 b0 a1 b1 and so on.
REWOUND_IN_LANES void give_two_columns(doubles a, doubles b, doubles& first, doubles& second) {
#if REWOUND_REGISTER == 8
  constexpr indices low = {0, 8, 1, 9, 2, 10, 3, 11};
  constexpr indices high = {4, 12, 5, 13, 6, 14, 7, 15};
#elif REWOUND_REGISTER == 4
  constexpr indices low = {0, 4, 1, 5};
  constexpr indices high = {2, 6, 3, 7};
#else
  constexpr indices low = {0, 2};
  constexpr indices high = {1, 3};
#endif
  first = __builtin_shuffle(a, b, low);
  second = __builtin_shuffle(a, b, high);
}

REWOUND_IN_LANES doubles load(const double* from) {
  doubles out;
  __builtin_memcpy(&out, from, sizeof out);
  return out;
}

REWOUND_IN_LANES void store(doubles value, double* to) { __builtin_memcpy(to, &value, sizeof value); }

/// A byte a lane, 1 where it is set.
REWOUND_IN_LANES void store_mask(mask set, unsigned char* to) {
#if REWOUND_REGISTER == 8
  const __m128i bytes = _mm_maskz_set1_epi8(set, 1);
  __builtin_memcpy(to, &bytes, register_width);
#else
  for (int i = 0; i < register_width; ++i) to[i] = set[i] != 0;
#endif
}

REWOUND_IN_LANES doubles load_counts(const int* from) {
#if REWOUND_REGISTER == 8
  __m256i counts;
  __builtin_memcpy(&counts, from, sizeof counts);
  return (doubles)_mm512_cvtepi32_pd(counts);
#else
  doubles out{};
  for (int i = 0; i < register_width; ++i) out[i] = from[i];
  return out;
#endif
}

REWOUND_IN_LANES void store_counts(doubles value, int* to) {
#if REWOUND_REGISTER == 8
  const __m256i counts = _mm512_cvttpd_epi32((__m512d)value);
  __builtin_memcpy(to, &counts, sizeof counts);
#else
  for (int i = 0; i < register_width; ++i) to[i] = static_cast<int>(value[i]);
#endif
}

}  // namespace
}  // namespace rewound::fit
