// SPDX-License-Identifier: MIT
#pragma once

// Several numbers side by side in a register, for headers: the loops over them are written once, for a width that is a
// template argument, and compiled for each width with the instructions named at the function itself (REWOUND_WITH_AVX2,
// REWOUND_WITH_AVX512). Which one runs is chosen on the machine; a header's user needs no compiler flags. Everything is
// inlined into those functions, so that nothing compiled for wide registers is linked where a narrow one was meant.
// Widths differ in the last digits alone: sums are formed in another order, and products may be fused to them.
namespace rewound::base {

template <int Width>
struct lane_types {
  typedef double numbers __attribute__((vector_size(8 * Width)));
  typedef unsigned long long bits __attribute__((vector_size(8 * Width)));
};

#define REWOUND_IN_LANES inline __attribute__((always_inline))

#if defined(__x86_64__) && defined(__GNUC__)
#define REWOUND_WIDE_LANES
#define REWOUND_WITH_AVX2 __attribute__((target("avx2,fma")))
#define REWOUND_WITH_AVX512 __attribute__((target("avx512f,avx512dq,avx512vl,avx512bw,avx2,fma")))
#endif

/// The widest that widest_lanes() gives on any machine.
inline constexpr int most_lanes = 8;

/// Lanes of this machine's registers: 2, 4 or 8.
inline int widest_lanes() {
#ifdef REWOUND_WIDE_LANES
  static const int width = [] {
    const bool eight = __builtin_cpu_supports("avx512f") && __builtin_cpu_supports("avx512dq") &&
                       __builtin_cpu_supports("avx512vl") && __builtin_cpu_supports("avx512bw");
    if (eight) return 8;
    return __builtin_cpu_supports("avx2") && __builtin_cpu_supports("fma") ? 4 : 2;
  }();
  return width;
#else
  return 2;
#endif
}

template <int Width>
REWOUND_IN_LANES void load(typename lane_types<Width>::numbers& out, const double* from) {
  __builtin_memcpy(&out, from, sizeof out);
}

template <int Width>
REWOUND_IN_LANES void store(double* out, const typename lane_types<Width>::numbers& from) {
  __builtin_memcpy(out, &from, sizeof from);
}

/// (e^r - 1 - r) / r^2 for |r| up to ln 2 / 2: a polynomial through Chebyshev points, which leaves 2e-17 of e^r
/// (checked in extended precision when it was made).
template <class Numbers>
REWOUND_IN_LANES void exponential_remainder(Numbers& p, const Numbers& r) {
  p = Numbers{} + 2.510044691827103e-08;
  p = p * r + 2.7620138571500666e-07;
  p = p * r + 2.755726830635798e-06;
  p = p * r + 2.4801521190514285e-05;
  p = p * r + 0.00019841269863184172;
  p = p * r + 0.0013888888917281631;
  p = p * r + 0.00833333333333002;
  p = p * r + 0.04166666666662399;
  p = p * r + 0.16666666666666669;
  p = p * r + 0.5;
}

/// e^x to a rounding or two, for |x| up to 700; beyond, numbers without meaning. x = k ln 2 + r.
template <class Numbers, class Bits>
REWOUND_IN_LANES void quick_exponential(Numbers& x) {
  constexpr double whole = 6755399441055744.0;  // 1.5 * 2^52: adding it rounds to whole numbers
  const Numbers shifted = x * 1.4426950408889634 + whole;
  const Numbers k = shifted - whole;
  const Numbers r = (x - k * 0.6931471805598903) - k * 5.497923018708371e-14;
  Numbers p;
  exponential_remainder(p, r);
  p = 1.0 + (r + r * r * p);
  x = (Numbers)((Bits)p + ((Bits)shifted << 52));
}

/// ln x of a normal number above 0, to a rounding or two.
///
/// x = 2^k (1 + f) with 1 + f between sqrt(1/2) and sqrt(2); 2 artanh(f / (2 + f)), of which a polynomial interpolates
/// the series' remainder at Chebyshev points, which leaves 5e-18.
template <class Numbers, class Bits>
REWOUND_IN_LANES void to_logarithm(Numbers& x) {
  constexpr unsigned long long root_half = 0x3FE6A09E667F3BCDULL;
  constexpr unsigned long long one = 0x3FF0000000000000ULL;
  const Bits exponent = ((Bits)x - root_half + one) >> 52;  // k + 1023
  const Numbers f = (Numbers)((Bits)x - (exponent << 52) + one) - 1.0;
  const Numbers k = (Numbers)(exponent | 0x4330000000000000ULL) - (4503599627370496.0 + 1023.0);
  const Numbers s = f / (2.0 + f);
  const Numbers z = s * s;
  Numbers p = Numbers{} + 0.14618233921551965;
  p = p * z + 0.1533157716046906;
  p = p * z + 0.18182893473493925;
  p = p * z + 0.2222221107507145;
  p = p * z + 0.2857142862634167;
  p = p * z + 0.39999999999898694;
  p = p * z + 0.666666666666667;
  const Numbers of_f = 2.0 * s + s * (z * p);
  x = k * 0.6931471805598903 + (of_f + k * 5.497923018708371e-14);
}

/// e^x, for x not above 700; below -700 as at -700.
template <int Width>
REWOUND_IN_LANES void to_exponential(typename lane_types<Width>::numbers& x) {
  using numbers = typename lane_types<Width>::numbers;
  const numbers least = numbers{} - 700.0;
  x = x > least ? x : least;
  quick_exponential<numbers, typename lane_types<Width>::bits>(x);
}

/// ln x of a normal number above 0.
template <int Width>
REWOUND_IN_LANES void to_logarithm(typename lane_types<Width>::numbers& x) {
  to_logarithm<typename lane_types<Width>::numbers, typename lane_types<Width>::bits>(x);
}

}  // namespace rewound::base
