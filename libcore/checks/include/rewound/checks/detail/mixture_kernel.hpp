// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <limits>
#include <vector>

#include <rewound/base/lanes.hpp>

// Sums over the alternatives of a mixture, several alternatives side by side in a register.
namespace rewound::checks::detail {

/// Numbers of many alternatives: as many alternatives as a register has lanes lie side by side, coordinate by
/// coordinate.
struct laned_numbers {
  int width = 2;          ///< lanes
  std::size_t count = 0;  ///< alternatives; the last group is filled up with zeros
  std::size_t coordinates = 0;
  std::vector<double> values;

  laned_numbers() = default;
  laned_numbers(int lanes, std::size_t alternatives, std::size_t dimensions)
      : width(lanes),
        count(alternatives),
        coordinates(dimensions),
        values(groups() * dimensions * static_cast<std::size_t>(lanes)) {}

  std::size_t groups() const { return (count + static_cast<std::size_t>(width) - 1) / static_cast<std::size_t>(width); }
  double& at(std::size_t alternative, std::size_t coordinate) { return values[place(alternative, coordinate)]; }
  double at(std::size_t alternative, std::size_t coordinate) const { return values[place(alternative, coordinate)]; }

 private:
  std::size_t place(std::size_t alternative, std::size_t coordinate) const {
    const auto lanes = static_cast<std::size_t>(width);
    return (alternative / lanes * coordinates + coordinate) * lanes + alternative % lanes;
  }
};

/// A narrow and a wide normal density about each alternative: weight (e^(-square / 2) + wide e^(-wide_rate square)).
struct mixture_shape {
  double wide = 0.0;  ///< height of the wide peak over the narrow one; 0: there is none
  double wide_rate = 0.5;
};

/// Points looked at together, so that a mean is loaded once for all of them.
inline constexpr std::size_t points_at_once = 4;

/// Squared distances of some points from all means.
///
/// @param points  coordinates of one point after another
/// @param out     one row a point, filled up as the means are
template <int Width>
REWOUND_IN_LANES void squares_in_lanes(const laned_numbers& means, const double* squares, const double* points,
                                       double* out) {
  using numbers = typename base::lane_types<Width>::numbers;
  const std::size_t n = means.coordinates, groups = means.groups(), row = groups * Width;
  double own[points_at_once] = {};
  for (std::size_t p = 0; p < points_at_once; ++p)
    for (std::size_t c = 0; c < n; ++c) own[p] += points[p * n + c] * points[p * n + c];
  for (std::size_t g = 0; g < groups; ++g) {
    numbers a{}, b{}, c{}, d{}, mean, square;
    const double* from = means.values.data() + g * n * Width;
    for (std::size_t k = 0; k < n; ++k) {
      base::load<Width>(mean, from + k * Width);
      a += mean * points[k];
      b += mean * points[n + k];
      c += mean * points[2 * n + k];
      d += mean * points[3 * n + k];
    }
    base::load<Width>(square, squares + g * Width);
    a = (square - 2.0 * a) + own[0];
    b = (square - 2.0 * b) + own[1];
    c = (square - 2.0 * c) + own[2];
    d = (square - 2.0 * d) + own[3];
    base::store<Width>(out + g * Width, a);
    base::store<Width>(out + row + g * Width, b);
    base::store<Width>(out + 2 * row + g * Width, c);
    base::store<Width>(out + 3 * row + g * Width, d);
  }
}

/// ln of the mixture's density where the squared distances are these.
template <int Width>
REWOUND_IN_LANES double log_density_in_lanes(const double* square, const double* weights, std::size_t groups,
                                             const mixture_shape& shape) {
  using numbers = typename base::lane_types<Width>::numbers;
  numbers least = numbers{} + std::numeric_limits<double>::max(), at, weight;
  for (std::size_t g = 0; g < groups; ++g) {
    base::load<Width>(at, square + g * Width);
    least = at < least ? at : least;
  }
  double nearest = least[0];
  for (int i = 1; i < Width; ++i) nearest = std::min(nearest, least[i]);
  const bool both = shape.wide > 0.0;
  const double rate = both ? shape.wide_rate : 0.5;  // of what falls off most slowly
  const double top = rate * nearest;
  numbers sum{};
  for (std::size_t g = 0; g < groups; ++g) {
    base::load<Width>(at, square + g * Width);
    base::load<Width>(weight, weights + g * Width);
    numbers narrow = top - 0.5 * at;
    base::to_exponential<Width>(narrow);
    if (both) {
      numbers broad = rate * (nearest - at);
      base::to_exponential<Width>(broad);
      narrow += shape.wide * broad;
    }
    sum += weight * narrow;
  }
  double total = 0.0;
  for (int i = 0; i < Width; ++i) total += sum[i];
  return std::log(total) - top;
}

/// A linear map of every alternative's coordinates.
///
/// @param map  coefficients of one new coordinate after another
template <int Width>
REWOUND_IN_LANES void map_in_lanes(const laned_numbers& from, const double* map, const std::vector<std::size_t>& used,
                                   laned_numbers& to) {
  using numbers = typename base::lane_types<Width>::numbers;
  const std::size_t groups = from.groups();
  for (std::size_t g = 0; g < groups; ++g) {
    const double* in = from.values.data() + g * from.coordinates * Width;
    double* out = to.values.data() + g * to.coordinates * Width;
    for (std::size_t c = 0; c < to.coordinates; ++c) {
      numbers sum{}, value;
      for (const std::size_t k : used) {
        base::load<Width>(value, in + k * Width);
        sum += map[c * from.coordinates + k] * value;
      }
      base::store<Width>(out + c * Width, sum);
    }
  }
}

/// e^x of whole registers of numbers, none above 700.
template <int Width>
REWOUND_IN_LANES void exponentials_in_lanes(double* x, std::size_t count) {
  typename base::lane_types<Width>::numbers value;
  for (std::size_t i = 0; i < count; i += Width) {
    base::load<Width>(value, x + i);
    base::to_exponential<Width>(value);
    base::store<Width>(x + i, value);
  }
}

/// What a width of registers offers.
struct mixture_loops {
  void (*squares)(const laned_numbers&, const double*, const double*, double*);
  double (*log_density)(const double*, const double*, std::size_t, const mixture_shape&);
  void (*map)(const laned_numbers&, const double*, const std::vector<std::size_t>&, laned_numbers&);
  void (*exponentials)(double*, std::size_t);
};

#define REWOUND_MIXTURE_LOOPS(NAME, WIDTH, INSTRUCTIONS)                                                            \
  struct NAME {                                                                                                     \
    INSTRUCTIONS static void squares(const laned_numbers& means, const double* own, const double* points,           \
                                     double* out) {                                                                 \
      squares_in_lanes<WIDTH>(means, own, points, out);                                                             \
    }                                                                                                               \
    INSTRUCTIONS static double log_density(const double* square, const double* weights, std::size_t groups,         \
                                           const mixture_shape& shape) {                                            \
      return log_density_in_lanes<WIDTH>(square, weights, groups, shape);                                           \
    }                                                                                                               \
    INSTRUCTIONS static void map(const laned_numbers& from, const double* by, const std::vector<std::size_t>& used, \
                                 laned_numbers& to) {                                                               \
      map_in_lanes<WIDTH>(from, by, used, to);                                                                      \
    }                                                                                                               \
    INSTRUCTIONS static void exponentials(double* x, std::size_t count) { exponentials_in_lanes<WIDTH>(x, count); } \
    static constexpr mixture_loops all{squares, log_density, map, exponentials};                                    \
  };

REWOUND_MIXTURE_LOOPS(plain_loops, 2, )
#ifdef REWOUND_WIDE_LANES
REWOUND_MIXTURE_LOOPS(avx2_loops, 4, REWOUND_WITH_AVX2)
REWOUND_MIXTURE_LOOPS(avx512_loops, 8, REWOUND_WITH_AVX512)
#endif

#undef REWOUND_MIXTURE_LOOPS

inline const mixture_loops& loops_of(int width) {
#ifdef REWOUND_WIDE_LANES
  if (width == 8) return avx512_loops::all;
  if (width == 4) return avx2_loops::all;
#endif
  static_cast<void>(width);
  return plain_loops::all;
}

}  // namespace rewound::checks::detail
