// SPDX-License-Identifier: MIT

// The loops of curve_evidence_kernel.hpp in registers of one width.
namespace rewound::checks::detail::REWOUND_LANES {

using namespace base::REWOUND_LANES;

/// A point in the lanes of one register: residuals from the kinds' means, how each depends on what all points share
/// (standard normal numbers), and the variance that is its own.
struct register_point {
  lanes residual, own;
  std::array<lanes, shared_count> loading;
};

REWOUND_IN_LANES void look_at(const kernel_point& point, const double* kind, register_point& out) {
  out.residual = point.log_current;
  for (std::size_t a = 0; a < shape_count; ++a) {
    out.residual -= point.values[a] * load_row(kind + a * register_length);
  }
  for (std::size_t b = 0; b < shape_count; ++b) out.loading[b] = 0.0;
  const double* factor = kind + shape_count * register_length;
  for (std::size_t a = 0; a < shape_count; ++a)
    for (std::size_t b = 0; b <= a; ++b, factor += register_length)
      out.loading[b] += point.values[a] * load_row(factor);
  out.own = point.variance + load_row(factor);
  out.loading[shape_count] = __builtin_sqrt(level_variance);
}

/// What all points of one register's kinds come to, by Woodbury's identity, so that the work grows with their number
/// and not with its cube: the inner matrix, then its factors L D L^T, which need no roots; and what the residuals come
/// to in it.
struct register_sums {
  std::array<std::array<lanes, shared_count>, shared_count> inner;
  std::array<lanes, shared_count> solved, inverse;  ///< 1 / D
  lanes log_determinant, square;
};

REWOUND_IN_LANES void add_points(const std::vector<kernel_point>& points, const double* kind, register_sums& sums) {
  sums.log_determinant = sums.square = 0.0;
  for (std::size_t a = 0; a < shared_count; ++a) {
    sums.solved[a] = 0.0;
    for (std::size_t b = 0; b <= a; ++b) sums.inner[a][b] = (a == b ? 1.0 : 0.0);
  }
  register_point point;
  for (const auto& each : points) {
    look_at(each, kind, point);
    sums.log_determinant += series_logarithm(point.own);
    const lanes weight = 1.0 / point.own;
    for (std::size_t a = 0; a < shared_count; ++a) {
      const lanes scaled = point.loading[a] * weight;
      sums.solved[a] += scaled * point.residual;
      for (std::size_t b = 0; b <= a; ++b) sums.inner[a][b] += scaled * point.loading[b];
    }
  }
}

REWOUND_IN_LANES void take_apart(register_sums& sums) {
  auto& inner = sums.inner;
  for (std::size_t j = 0; j < shared_count; ++j) {
    for (std::size_t k = 0; k < j; ++k) {
      inner[j][j] -= inner[j][k] * inner[j][k] * inner[k][k];
      sums.solved[j] -= inner[j][k] * sums.solved[k];
    }
    sums.inverse[j] = 1.0 / inner[j][j];
    for (std::size_t i = j + 1; i < shared_count; ++i) {
      for (std::size_t k = 0; k < j; ++k) inner[i][j] -= inner[i][k] * inner[j][k] * inner[k][k];
      inner[i][j] = inner[i][j] * sums.inverse[j];
    }
    sums.log_determinant += series_logarithm(inner[j][j]);
  }
}

/// By how much the evidence gains in ln where one point is freed to be a blunder.
///
/// @param diagonal  the point's element on the diagonal of the inverse
/// @param pull      its row of the inverse times the residuals
REWOUND_IN_LANES lanes gain_of_freedom(lanes diagonal, lanes pull) {
  static_assert(blunder_sizes.size() == 2);
  std::array<lanes, 2> freed;
  for (std::size_t b = 0; b < 2; ++b) {
    const double variance = blunder_sizes[b].deviation * blunder_sizes[b].deviation;
    const lanes widened = 1.0 + variance * diagonal;
    freed[b] = 0.5 * (variance * pull * pull / widened - series_logarithm(widened));
  }
  const lanes top = greater(freed[0], freed[1]);
  for (auto& each : freed) each = exponential_below(each - top);
  return top + series_logarithm(blunder_sizes[0].share * freed[0] + blunder_sizes[1].share * freed[1]);
}

/// What is said of one point, without the evidence of all, which is not known yet.
REWOUND_IN_LANES void weigh_point(const kernel_point& seen, const double* kind, std::size_t at, register_sums& sums,
                                  kernel_answers& out) {
  register_point point;
  look_at(seen, kind, point);
  lanes common = 0.0, explained = 0.0;
  for (std::size_t a = 0; a < shared_count; ++a) {
    for (std::size_t k = 0; k < a; ++k) point.loading[a] -= sums.inner[a][k] * point.loading[k];
    const lanes along = point.loading[a] * sums.inverse[a];
    common += along * sums.solved[a];
    explained += along * point.loading[a];
  }
  const lanes weight = 1.0 / point.own;
  const lanes pull = (point.residual - common) * weight;
  const lanes diagonal = (1.0 - explained * weight) * weight;
  sums.square += pull * point.residual;
  const lanes others = 0.5 * (pull * pull / diagonal - series_logarithm(diagonal));
  const lanes mean = seen.log_current - pull / diagonal;
  const lanes variance = 1.0 / diagonal;
  store(gain_of_freedom(diagonal, pull), out.log_freed.data() + at);
  store(others, out.log_others.data() + at);
  store(mean, out.mean.data() + at);
  store(variance, out.variance.data() + at);
}

REWOUND_IN_LANES void weigh_register(const std::vector<kernel_point>& points, const double* kind, std::size_t first,
                                     std::size_t row, kernel_answers& out) {
  register_sums sums;
  add_points(points, kind, sums);
  take_apart(sums);
  for (std::size_t i = 0; i < points.size(); ++i) weigh_point(points[i], kind, i * row + first, sums, out);
  const lanes evidence =
      load_row(kind + (laned_kinds::entries - 1) * register_length) - 0.5 * (sums.square + sums.log_determinant);
  store(evidence, out.log_evidence.data() + first);
  for (std::size_t i = 0; i < points.size(); ++i)
    for (auto* each : {&out.log_freed, &out.log_others}) {
      double* const place = each->data() + i * row + first;
      store(load_row(place) + evidence, place);
    }
}

REWOUND_OF_LANES void weigh_kinds(const std::vector<kernel_point>& points, kernel_answers& out) {
  const auto& kinds = laned_kinds::of_width(register_length);
  for (std::size_t first = 0; first < kinds.lanes; first += register_length)
    weigh_register(points, kinds.values.data() + first * laned_kinds::entries, first, kinds.lanes, out);
}

}  // namespace rewound::checks::detail::REWOUND_LANES
