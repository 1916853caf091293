// SPDX-License-Identifier: MIT

// The loops of mixture_kernel.hpp in registers of one width.
namespace rewound::checks::detail::REWOUND_LANES {

using namespace base::REWOUND_LANES;

/// Squared distances of some points from all means.
///
/// @param points  coordinates of one point after another
/// @param out     one row a point, filled up as the means are
REWOUND_OF_LANES void squares(const laned_numbers& means, const double* own_squares, const double* points,
                              double* out) {
  const std::size_t n = means.coordinates, groups = means.groups(), row = groups * register_length;
  double own[points_at_once] = {};
  for (std::size_t p = 0; p < points_at_once; ++p)
    for (std::size_t c = 0; c < n; ++c) own[p] += points[p * n + c] * points[p * n + c];
  for (std::size_t g = 0; g < groups; ++g) {
    lanes a = 0.0, b = 0.0, c = 0.0, d = 0.0;
    const double* from = means.values.data() + g * n * register_length;
    for (std::size_t k = 0; k < n; ++k) {
      const lanes mean = load_row(from + k * register_length);
      a += mean * points[k];
      b += mean * points[n + k];
      c += mean * points[2 * n + k];
      d += mean * points[3 * n + k];
    }
    const lanes square = load_row(own_squares + g * register_length);
    a = (square - 2.0 * a) + own[0];
    b = (square - 2.0 * b) + own[1];
    c = (square - 2.0 * c) + own[2];
    d = (square - 2.0 * d) + own[3];
    store(a, out + g * register_length);
    store(b, out + row + g * register_length);
    store(c, out + 2 * row + g * register_length);
    store(d, out + 3 * row + g * register_length);
  }
}

/// ln of the mixture's density where the squared distances are these.
REWOUND_OF_LANES double log_density(const double* square, const double* weights, std::size_t groups,
                                    const mixture_shape& shape) {
  lanes least = std::numeric_limits<double>::max();
  for (std::size_t g = 0; g < groups; ++g) least = lesser(load_row(square + g * register_length), least);
  double nearest = least[0];
  for (int i = 1; i < lane_count; ++i) nearest = least[i] < nearest ? least[i] : nearest;
  const bool both = shape.wide > 0.0;
  const double rate = both ? shape.wide_rate : 0.5;  // of what falls off most slowly
  const double top = rate * nearest;
  lanes sum = 0.0;
  for (std::size_t g = 0; g < groups; ++g) {
    const lanes at = load_row(square + g * register_length);
    lanes density = exponential_below(top - 0.5 * at);
    if (both) density += shape.wide * exponential_below(rate * (nearest - at));
    sum += load_row(weights + g * register_length) * density;
  }
  double total = 0.0;
  for (int i = 0; i < lane_count; ++i) total += sum[i];
  return std::log(total) - top;
}

/// A linear map of every alternative's coordinates.
///
/// @param by  coefficients of one new coordinate after another
REWOUND_OF_LANES void map(const laned_numbers& from, const double* by, const std::vector<std::size_t>& used,
                          laned_numbers& to) {
  const std::size_t groups = from.groups();
  for (std::size_t g = 0; g < groups; ++g) {
    const double* in = from.values.data() + g * from.coordinates * register_length;
    double* out = to.values.data() + g * to.coordinates * register_length;
    for (std::size_t c = 0; c < to.coordinates; ++c) {
      lanes sum = 0.0;
      for (const std::size_t k : used) sum += by[c * from.coordinates + k] * load_row(in + k * register_length);
      store(sum, out + c * register_length);
    }
  }
}

/// e^x of whole registers of numbers, none above 700.
REWOUND_OF_LANES void exponentials(double* x, std::size_t count) {
  for (std::size_t i = 0; i < count; i += register_length) store(exponential_below(load_row(x + i)), x + i);
}

inline constexpr mixture_loops all_loops{squares, log_density, map, exponentials};

}  // namespace rewound::checks::detail::REWOUND_LANES
