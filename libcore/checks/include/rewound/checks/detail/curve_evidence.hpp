// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <vector>

#include <rewound/machine/curve_shapes.hpp>

// How well readings agree with one smooth curve of a machine: marginal likelihoods under the mixture of curve shapes
// (machine/curve_shapes.hpp). Source: C. E. Rasmussen, C. K. I. Williams, Gaussian Processes for Machine Learning (2006),
// 2.2 (prediction), 5.4.2 (each reading against all others from one inverse).
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
inline constexpr std::array<extra_scatter, 3> extra_scatters{{{0.002, 0.70}, {0.006, 0.22}, {0.015, 0.08}}};

/// A wrong reading lies off by ten percent or so, or by a decimal place (shares: common practice, no source).
inline constexpr std::array<extra_scatter, 2> blunder_sizes{{{0.12, 0.6}, {1.5, 0.4}}};

inline constexpr double level_variance = 25.0;  ///< of ln I at rated voltage: nothing is known of it

inline double log_sum(double a, double b) {
  const double top = std::max(a, b);
  return std::isinf(top) ? top : top + std::log(std::exp(a - top) + std::exp(b - top));
}

/// Row-major square matrix.
struct square_matrix {
  std::size_t size;
  std::vector<double> values;
  explicit square_matrix(std::size_t n) : size(n), values(n * n, 0.0) {}
  double& at(std::size_t i, std::size_t j) { return values[i * size + j]; }
  double at(std::size_t i, std::size_t j) const { return values[i * size + j]; }
};

/// Inverse in place by Cholesky's factor. @return ln of the determinant
inline double invert(square_matrix& m) {
  const std::size_t n = m.size;
  double log_determinant = 0.0;
  for (std::size_t j = 0; j < n; ++j) {
    for (std::size_t i = j; i < n; ++i) {
      double sum = m.at(i, j);
      for (std::size_t k = 0; k < j; ++k) sum -= m.at(i, k) * m.at(j, k);
      m.at(i, j) = i == j ? std::sqrt(std::max(sum, 1e-300)) : sum / m.at(j, j);
    }
    log_determinant += 2.0 * std::log(m.at(j, j));
  }
  for (std::size_t j = 0; j < n; ++j) {  // the factor's inverse, in the lower triangle
    m.at(j, j) = 1.0 / m.at(j, j);
    for (std::size_t i = j + 1; i < n; ++i) {
      double sum = 0.0;
      for (std::size_t k = j; k < i; ++k) sum -= m.at(i, k) * m.at(k, j);
      m.at(i, j) = sum / m.at(i, i);
    }
  }
  for (std::size_t i = 0; i < n; ++i)
    for (std::size_t j = 0; j <= i; ++j) {
      double sum = 0.0;
      for (std::size_t k = i; k < n; ++k) sum += m.at(k, i) * m.at(k, j);
      m.at(i, j) = sum;
    }
  for (std::size_t i = 0; i < n; ++i)
    for (std::size_t j = 0; j < i; ++j) m.at(j, i) = m.at(i, j);
  return log_determinant;
}

/// The points under one kind of curve: residuals from its mean, and their covariance without the points' own errors.
struct kind_view {
  std::vector<double> residual;
  square_matrix covariance;
};

inline std::vector<machine::shape_row> rows_of(const std::vector<shape_point>& points) {
  std::vector<machine::shape_row> out;
  for (const auto& point : points) out.push_back(machine::shape_functions_at(point.z));
  return out;
}

inline kind_view view_of(const std::vector<shape_point>& points, const std::vector<machine::shape_row>& rows,
                         const machine::curve_kind& kind) {
  constexpr std::size_t count = machine::shape_function_count;
  const std::size_t n = points.size();
  std::vector<std::array<double, count>> loading(n);
  kind_view out{std::vector<double>(n), square_matrix(n)};
  for (std::size_t i = 0; i < n; ++i) {
    out.residual[i] = points[i].log_current;
    loading[i] = {};
    for (std::size_t a = 0; a < count; ++a) {
      out.residual[i] -= rows[i].values[a] * kind.mean[a];
      for (std::size_t b = 0; b <= a; ++b) loading[i][b] += rows[i].values[a] * kind.factor[a][b];
    }
  }
  for (std::size_t i = 0; i < n; ++i)
    for (std::size_t j = 0; j <= i; ++j) {
      double sum = level_variance;
      for (std::size_t b = 0; b < count; ++b) sum += loading[i][b] * loading[j][b];
      out.covariance.at(i, j) = out.covariance.at(j, i) = sum;
    }
  for (std::size_t i = 0; i < n; ++i)
    out.covariance.at(i, i) += points[i].variance + rows[i].beyond_uncertainty * rows[i].beyond_uncertainty;
  return out;
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
  for (const auto& kind : machine::curve_kinds()) {
    const auto view = view_of(points, rows, kind);
    for (const auto& scatter : extra_scatters) {
      square_matrix inverse = view.covariance;
      for (std::size_t i = 0; i < n; ++i) inverse.at(i, i) += scatter.deviation * scatter.deviation;
      const double log_determinant = invert(inverse);
      std::vector<double> pull(n, 0.0);
      double square = 0.0;
      for (std::size_t i = 0; i < n; ++i) {
        for (std::size_t j = 0; j < n; ++j) pull[i] += inverse.at(i, j) * view.residual[j];
        square += pull[i] * view.residual[i];
      }
      const double log_evidence = std::log(kind.weight * scatter.share) - 0.5 * (square + log_determinant);
      out.all = log_sum(out.all, log_evidence);
      for (std::size_t i = 0; i < n; ++i) {
        const double own = inverse.at(i, i);
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
