// SPDX-License-Identifier: MIT

// Registers of REWOUND_WIDTH doubles, and `lanes`: one number of each of several curves or alternatives. Included once
// for each width, see registers.hpp beside this folder.
namespace rewound::base::REWOUND_LANES {

constexpr int register_width = REWOUND_WIDTH;
constexpr std::size_t register_length = REWOUND_WIDTH;  ///< the same, for places in memory

typedef double doubles __attribute__((vector_size(8 * REWOUND_WIDTH)));
typedef long long indices __attribute__((vector_size(8 * REWOUND_WIDTH)));
typedef unsigned long long bits __attribute__((vector_size(8 * REWOUND_WIDTH)));

#if REWOUND_WIDTH == 8
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
REWOUND_IN_LANES mask above(bits a, unsigned long long limit) {
  return _mm512_cmpgt_epu64_mask((__m512i)a, _mm512_set1_epi64(static_cast<long long>(limit)));
}
#else
typedef indices mask;

constexpr mask every_lane = mask{} - 1;

REWOUND_IN_LANES mask below(doubles a, doubles b) { return a < b; }
REWOUND_IN_LANES mask at_most(doubles a, doubles b) { return a <= b; }
REWOUND_IN_LANES mask same(doubles a, doubles b) { return a == b; }
REWOUND_IN_LANES doubles choose(mask set, doubles a, doubles b) { return set ? a : b; }
REWOUND_IN_LANES bool any(mask set) {
#if REWOUND_WIDTH == 4
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
#if REWOUND_WIDTH == 4
  return (doubles)_mm256_min_pd((__m256d)a, (__m256d)b);
#elif defined(REWOUND_WIDE_LANES)
  return (doubles)_mm_min_pd((__m128d)a, (__m128d)b);
#else
  return a < b ? a : b;
#endif
}

REWOUND_IN_LANES doubles greater(doubles a, doubles b) {
#if REWOUND_WIDTH == 4
  return (doubles)_mm256_max_pd((__m256d)a, (__m256d)b);
#elif defined(REWOUND_WIDE_LANES)
  return (doubles)_mm_max_pd((__m128d)a, (__m128d)b);
#else
  return a > b ? a : b;
#endif
}

REWOUND_IN_LANES bits greater(bits a, bits b) { return a > b ? a : b; }
REWOUND_IN_LANES mask above(bits a, unsigned long long limit) { return (mask)(a > limit); }
#endif

/// 1 / x to a rounding or two; the inverse of 0 or infinity need not be a number.
REWOUND_IN_LANES doubles reciprocal(doubles x) {
#if REWOUND_WIDTH == 8
  doubles y = (doubles)_mm512_rcp14_pd((__m512d)x);  // Newton's steps double its 14 bits, and block no other division
  y += y * (1.0 - x * y);
  return y + y * (1.0 - x * y);
#else
  return 1.0 / x;
#endif
}

/// The square root to a rounding or two; NaN of NaN. Of what is not above 0 it is 0 or not a number.
REWOUND_IN_LANES doubles root(doubles x) {
#if REWOUND_WIDTH == 8
  doubles y = (doubles)_mm512_rsqrt14_pd((__m512d)x);
  const doubles half = 0.5 * x;
  y += y * (0.5 - half * y * y);
  y += y * (0.5 - half * y * y);
  const doubles near = x * y;
  return choose(at_most(x, doubles{}), doubles{}, near + 0.5 * y * (x - near * near));
#elif REWOUND_WIDTH == 4
  return (doubles)_mm256_sqrt_pd((__m256d)x);
#elif defined(REWOUND_WIDE_LANES)
  return (doubles)_mm_sqrt_pd((__m128d)x);
#else
  for (int i = 0; i < register_width; ++i) x[i] = __builtin_sqrt(x[i]);
  return x;
#endif
}

REWOUND_IN_LANES doubles size_of(doubles x) { return (doubles)((bits)x & 0x7fffffffffffffffULL); }

/// (e^r - 1 - r) / r^2 for |r| up to ln 2 / 2: a polynomial through Chebyshev points, which leaves 2e-17 of e^r
/// (checked in extended precision when it was made).
REWOUND_IN_LANES doubles exponential_remainder(doubles r) {
  doubles p = doubles{} + 2.510044691827103e-08;
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
REWOUND_IN_LANES doubles quick_exponential(doubles x) {
  constexpr double whole = 6755399441055744.0;  // 1.5 * 2^52: adding it rounds to whole numbers
  const doubles shifted = x * 1.4426950408889634 + whole;
  const doubles k = shifted - whole;
  const doubles r = (x - k * 0.6931471805598903) - k * 5.497923018708371e-14;
  const doubles p = 1.0 + (r + r * r * exponential_remainder(r));
  return (doubles)((bits)p + ((bits)shifted << 52));
}

/// ln x of a normal number above 0, to a rounding or two.
///
/// x = 2^k (1 + f) with 1 + f between sqrt(1/2) and sqrt(2); 2 artanh(f / (2 + f)), of which a polynomial interpolates
/// the series' remainder at Chebyshev points, which leaves 5e-18.
REWOUND_IN_LANES doubles series_logarithm(doubles x) {
  constexpr unsigned long long root_half = 0x3FE6A09E667F3BCDULL;
  constexpr unsigned long long one = 0x3FF0000000000000ULL;
  const bits exponent = ((bits)x - root_half + one) >> 52;  // k + 1023
  const doubles f = (doubles)((bits)x - (exponent << 52) + one) - 1.0;
  const doubles k = (doubles)(exponent | 0x4330000000000000ULL) - (4503599627370496.0 + 1023.0);
  const doubles s = f / (2.0 + f);
  const doubles z = s * s;
  doubles p = doubles{} + 0.14618233921551965;
  p = p * z + 0.1533157716046906;
  p = p * z + 0.18182893473493925;
  p = p * z + 0.2222221107507145;
  p = p * z + 0.2857142862634167;
  p = p * z + 0.39999999999898694;
  p = p * z + 0.666666666666667;
  const doubles of_f = 2.0 * s + s * (z * p);
  return k * 0.6931471805598903 + (of_f + k * 5.497923018708371e-14);
}

#if REWOUND_WIDTH == 8
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
REWOUND_IN_LANES doubles logarithm(doubles x) { return series_logarithm(x); }
#endif

/// Of two rows, blocks of 2^step columns change places.
template <int step>
REWOUND_IN_LANES void exchange(doubles& a, doubles& b) {
#if REWOUND_WIDTH == 8
  const doubles first = a;
  if constexpr (step == 0) {
    a = __builtin_shufflevector(first, b, 0, 8, 2, 10, 4, 12, 6, 14);
    b = __builtin_shufflevector(first, b, 1, 9, 3, 11, 5, 13, 7, 15);
  } else if constexpr (step == 1) {
    a = __builtin_shufflevector(first, b, 0, 1, 8, 9, 4, 5, 12, 13);
    b = __builtin_shufflevector(first, b, 2, 3, 10, 11, 6, 7, 14, 15);
  } else {
    a = __builtin_shufflevector(first, b, 0, 1, 2, 3, 8, 9, 10, 11);
    b = __builtin_shufflevector(first, b, 4, 5, 6, 7, 12, 13, 14, 15);
  }
#elif REWOUND_WIDTH == 4
  const doubles first = a;
  if constexpr (step == 0) {
    a = __builtin_shufflevector(first, b, 0, 4, 2, 6);
    b = __builtin_shufflevector(first, b, 1, 5, 3, 7);
  } else {
    a = __builtin_shufflevector(first, b, 0, 1, 4, 5);
    b = __builtin_shufflevector(first, b, 2, 3, 6, 7);
  }
#else
  const doubles first = a;
  a = __builtin_shufflevector(first, b, 0, 2);
  b = __builtin_shufflevector(first, b, 1, 3);
#endif
}

template <int step>
REWOUND_IN_LANES void exchange_rows(doubles (&rows)[register_width]) {
#pragma GCC unroll 8
  for (int i = 0; i < register_width; ++i)
    if (!((i >> step) & 1)) exchange<step>(rows[i], rows[i + (1 << step)]);
}

/// Rows become columns.
REWOUND_IN_LANES void transpose(doubles (&rows)[register_width]) {
  exchange_rows<0>(rows);
#if REWOUND_WIDTH >= 4
  exchange_rows<1>(rows);
#endif
#if REWOUND_WIDTH == 8
  exchange_rows<2>(rows);
#endif
}

/// Rows of two become two columns.
REWOUND_IN_LANES void take_two_columns(doubles first, doubles second, doubles& a, doubles& b) {
#if REWOUND_WIDTH == 8
  a = __builtin_shufflevector(first, second, 0, 2, 4, 6, 8, 10, 12, 14);
  b = __builtin_shufflevector(first, second, 1, 3, 5, 7, 9, 11, 13, 15);
#elif REWOUND_WIDTH == 4
  a = __builtin_shufflevector(first, second, 0, 2, 4, 6);
  b = __builtin_shufflevector(first, second, 1, 3, 5, 7);
#else
  a = __builtin_shufflevector(first, second, 0, 2);
  b = __builtin_shufflevector(first, second, 1, 3);
#endif
}

/// Two columns become rows of two: a0 b0 a1 b1 and so on.
REWOUND_IN_LANES void give_two_columns(doubles a, doubles b, doubles& first, doubles& second) {
#if REWOUND_WIDTH == 8
  first = __builtin_shufflevector(a, b, 0, 8, 1, 9, 2, 10, 3, 11);
  second = __builtin_shufflevector(a, b, 4, 12, 5, 13, 6, 14, 7, 15);
#elif REWOUND_WIDTH == 4
  first = __builtin_shufflevector(a, b, 0, 4, 1, 5);
  second = __builtin_shufflevector(a, b, 2, 6, 3, 7);
#else
  first = __builtin_shufflevector(a, b, 0, 2);
  second = __builtin_shufflevector(a, b, 1, 3);
#endif
}

REWOUND_IN_LANES doubles load(const double* from) {
  doubles out;
  __builtin_memcpy(&out, from, sizeof out);
  return out;
}

REWOUND_IN_LANES void store(doubles value, double* to) { __builtin_memcpy(to, &value, sizeof value); }

/// A byte a lane, 1 where it is set.
REWOUND_IN_LANES void store_mask(mask set, unsigned char* to) {
#if REWOUND_WIDTH == 8
  const __m128i bytes = _mm_maskz_set1_epi8(set, 1);
  __builtin_memcpy(to, &bytes, register_width);
#else
  for (int i = 0; i < register_width; ++i) to[i] = set[i] != 0;
#endif
}

REWOUND_IN_LANES doubles load_counts(const int* from) {
#if REWOUND_WIDTH == 8
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
#if REWOUND_WIDTH == 8
  const __m256i counts = _mm512_cvttpd_epi32((__m512d)value);
  __builtin_memcpy(to, &counts, sizeof counts);
#else
  for (int i = 0; i < register_width; ++i) to[i] = static_cast<int>(value[i]);
#endif
}

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
REWOUND_IN_LANES lanes series_logarithm(lanes a) { return lanes(series_logarithm(a.of)); }

/// Finite and not NaN.
REWOUND_IN_LANES flags finite(lanes value) { return size_of(value) < __builtin_inf(); }

/// e^x to a rounding or two, for |x| up to 700; beyond, numbers without meaning.
REWOUND_IN_LANES lanes quick_exponential(lanes x) { return lanes(quick_exponential(x.of)); }

/// e^x of any x; beyond 700 as at 700, and NaN of NaN.
REWOUND_IN_LANES lanes exponential(lanes x) { return quick_exponential(lesser(700.0, greater(-700.0, x))); }

/// e^x, for x not above 700; below -700 as at -700.
REWOUND_IN_LANES lanes exponential_below(lanes x) { return quick_exponential(greater(x, -700.0)); }

/// e^x for |x| at most small_exponent.
REWOUND_IN_LANES lanes small_exponential(lanes x) { return 1.0 + (x + x * x * lanes(exponential_remainder(x.of))); }

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

}  // namespace rewound::base::REWOUND_LANES
