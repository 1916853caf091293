// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <vector>

#include <rewound/checks/detail/log_sum.hpp>
#include <rewound/machine/curve_shapes.hpp>

// How well readings agree with one smooth curve of a machine: marginal likelihoods under the mixture of curve shapes
// (machine/curve_shapes.hpp). Sources: C. E. Rasmussen, C. K. I. Williams, Gaussian Processes for Machine Learning (2006),
// 2.2 (prediction), 5.4.2 (each
// reading against all others from one inverse), A.3 (Woodbury).
namespace rewound::checks::detail {

/// A reading of a curve in logarithms. `variance` is that of independent errors of log current, voltage included.
struct shape_point {
  double z;  ///< ln(voltage / rated voltage)
  double log_current;
  double variance;
};

/// What the other readings say of one: log current there, and its standard uncertainty.
struct shape_prediction {
  double log_current;
  double uncertainty;
};

/// Log evidences: of all readings lying on a curve, and of all but one, for each.
struct curve_evidence {
  double all = 0.0;
  std::vector<double> all_but;
  std::vector<shape_prediction> by_others;  ///< of each reading
};

/// Readings may scatter more than their meters say: standard deviations of ln I beyond them, and how often (common
/// practice, no source).
struct extra_scatter {
  double deviation;
  double share;
};
inline constexpr std::array<extra_scatter, 4> extra_scatters{{{0.002, 0.45}, {0.006, 0.25}, {0.013, 0.20}, {0.025, 0.10}}};

/// A wrong reading lies off by ten percent or so, or by a decimal place (shares: common practice, no source).
inline constexpr std::array<extra_scatter, 2> blunder_sizes{{{0.12, 0.6}, {1.5, 0.4}}};

inline constexpr double level_variance = 25.0;  ///< of ln I at rated voltage: nothing is known of it

/// Level and shape functions: what all readings of a curve share.
inline constexpr std::size_t shared_count = machine::shape_function_count + 1;
using shared_row = std::array<double, shared_count>;
using shared_matrix = std::array<shared_row, shared_count>;

/// Cholesky's factor in the lower triangle, in place. @return ln of the determinant
inline double factorise(shared_matrix& m) {
  double log_determinant = 0.0;
  for (std::size_t j = 0; j < shared_count; ++j) {
    for (std::size_t i = j; i < shared_count; ++i) {
      double sum = m[i][j];
      for (std::size_t k = 0; k < j; ++k) sum -= m[i][k] * m[j][k];
      m[i][j] = i == j ? std::sqrt(std::max(sum, 1e-300)) : sum / m[j][j];
    }
    log_determinant += 2.0 * std::log(m[j][j]);
  }
  return log_determinant;
}

/// The factor's inverse times a vector.
inline shared_row forward_solved(const shared_matrix& factor, shared_row v) {
  for (std::size_t i = 0; i < shared_count; ++i) {
    for (std::size_t k = 0; k < i; ++k) v[i] -= factor[i][k] * v[k];
    v[i] /= factor[i][i];
  }
  return v;
}

/// The points under one kind of curve: residuals from its mean, how each depends on what all share (standard normal
/// numbers), and the variance that is its own.
struct kind_view {
  std::vector<double> residual;
  std::vector<shared_row> loading;
  std::vector<double> own;
};

inline std::vector<machine::shape_row> rows_of(const std::vector<shape_point>& points) {
  std::vector<machine::shape_row> out;
  for (const auto& point : points) out.push_back(machine::shape_functions_at(point.z));
  return out;
}

inline void look_at(const std::vector<shape_point>& points, const std::vector<machine::shape_row>& rows,
                    const machine::curve_kind& kind, kind_view& out) {
  for (std::size_t i = 0; i < points.size(); ++i) {
    auto& loading = out.loading[i];
    loading = {};
    loading[machine::shape_function_count] = std::sqrt(level_variance);
    out.residual[i] = points[i].log_current;
    for (std::size_t a = 0; a < machine::shape_function_count; ++a) {
      out.residual[i] -= rows[i].values[a] * kind.mean[a];
      for (std::size_t b = 0; b <= a; ++b) loading[b] += rows[i].values[a] * kind.factor[a][b];
    }
    out.own[i] = points[i].variance + rows[i].beyond_uncertainty * rows[i].beyond_uncertainty;
  }
}

/// What the inverse of the points' covariance says: ln of the determinant, the quadratic form of the residuals, and of
/// each point its element on the diagonal and its row times the residuals. By Woodbury's identity, so that the work grows
/// with the number of points and not with its cube.
struct inverse_view {
  double log_determinant = 0.0;
  double square = 0.0;
  std::vector<double> diagonal;
  std::vector<double> pull;
};

inline void invert(const kind_view& view, double extra_variance, inverse_view& out) {
  const std::size_t n = view.residual.size();
  shared_matrix inner{};
  shared_row weighted{};
  out.log_determinant = 0.0;
  for (std::size_t i = 0; i < n; ++i) {
    const double variance = view.own[i] + extra_variance;
    out.log_determinant += std::log(variance);
    for (std::size_t a = 0; a < shared_count; ++a) {
      const double scaled = view.loading[i][a] / variance;
      weighted[a] += scaled * view.residual[i];
      for (std::size_t b = 0; b <= a; ++b) inner[a][b] += scaled * view.loading[i][b];
    }
  }
  for (std::size_t a = 0; a < shared_count; ++a) inner[a][a] += 1.0;
  out.log_determinant += factorise(inner);
  const auto solved = forward_solved(inner, weighted);
  out.square = 0.0;
  for (std::size_t i = 0; i < n; ++i) {
    const double variance = view.own[i] + extra_variance;
    const auto seen = forward_solved(inner, view.loading[i]);
    double common = 0.0;
    double explained = 0.0;
    for (std::size_t a = 0; a < shared_count; ++a) {
      common += seen[a] * solved[a];
      explained += seen[a] * seen[a];
    }
    out.pull[i] = (view.residual[i] - common) / variance;
    out.diagonal[i] = (1.0 - explained / variance) / variance;
    out.square += out.pull[i] * view.residual[i];
  }
}

/// Sums of a mixture's predictions, weighted by exp(log weight) relative to the largest met so far.
class mixed_prediction {
 public:
  void add(double log_weight, double mean, double variance) {
    if (log_weight > top_) {
      const double fade = std::exp(top_ - log_weight);
      weight_ *= fade;
      mean_ *= fade;
      square_ *= fade;
      top_ = log_weight;
    }
    const double weight = std::exp(log_weight - top_);
    weight_ += weight;
    mean_ += weight * mean;
    square_ += weight * (variance + mean * mean);
  }
  shape_prediction value() const {
    const double mean = mean_ / weight_;
    return {mean, std::sqrt(std::max(0.0, square_ / weight_ - mean * mean))};
  }

 private:
  double top_ = -1e300;
  double weight_ = 0.0;
  double mean_ = 0.0;
  double square_ = 0.0;
};

/// Evidence of the points under all kinds of curve and sizes of extra scatter.
inline curve_evidence evidence_of(const std::vector<shape_point>& points) {
  constexpr double never = -1e300;
  const std::size_t n = points.size();
  const auto rows = rows_of(points);
  curve_evidence out{never, std::vector<double>(n, never), {}};
  std::vector<mixed_prediction> predictions(n);
  kind_view view{std::vector<double>(n), std::vector<shared_row>(n), std::vector<double>(n)};
  inverse_view inverse{0.0, 0.0, std::vector<double>(n), std::vector<double>(n)};
  for (const auto& kind : machine::curve_kinds()) {
    look_at(points, rows, kind, view);
    for (const auto& scatter : extra_scatters) {
      invert(view, scatter.deviation * scatter.deviation, inverse);
      const auto& pull = inverse.pull;
      const double log_evidence =
          std::log(kind.weight * scatter.share) - 0.5 * (inverse.square + inverse.log_determinant);
      out.all = log_sum(out.all, log_evidence);
      for (std::size_t i = 0; i < n; ++i) {
        const double own = inverse.diagonal[i];
        double freed = never;
        for (const auto& blunder : blunder_sizes) {
          const double variance = blunder.deviation * blunder.deviation;
          freed = log_sum(freed, std::log(blunder.share) - 0.5 * std::log1p(variance * own) +
                                     0.5 * variance * pull[i] * pull[i] / (1.0 + variance * own));
        }
        out.all_but[i] = log_sum(out.all_but[i], log_evidence + freed);
        // The kind's weight given the other readings alone: their evidence, without this reading's own.
        const double others = log_evidence + 0.5 * pull[i] * pull[i] / own - 0.5 * std::log(own);
        predictions[i].add(others, points[i].log_current - pull[i] / own, 1.0 / own);
      }
    }
  }
  for (const auto& each : predictions) out.by_others.push_back(each.value());
  return out;
}

/// Log current that the points make one expect at z, with the uncertainty of one more reading there.
inline shape_prediction predict_at(const std::vector<shape_point>& points, double z, double variance) {
  auto with_one = points;
  with_one.push_back({z, 0.0, variance});
  return evidence_of(with_one).by_others.back();
}

}  // namespace rewound::checks::detail
