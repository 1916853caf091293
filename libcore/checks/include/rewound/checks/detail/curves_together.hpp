// SPDX-License-Identifier: MIT
#pragma once

#include <array>
#include <cmath>
#include <cstddef>
#include <optional>
#include <utility>
#include <vector>

#include <Eigen/Core>

#include <rewound/checks/detail/curve_evidence.hpp>
#include <rewound/checks/detail/summary_basis.hpp>
#include <rewound/fit/dense.hpp>
#include <rewound/fit/summary_block.hpp>

// One channel's readings on all speeds of a test together: what each reading is expected to be by all others, of its
// own speed and of the others, and by the curve that is known of the model, where one is. Every speed's curve is what
// is known, plus a departure that all speeds share, plus one of its own; how much of each, and how the bench scatters,
// the readings tell by their evidence. Sources: C. E. Rasmussen, C. K. I. Williams, Gaussian Processes for Machine
// Learning (2006), 5.4.2 (each reading against all others from one inverse), A.3 (Woodbury).
namespace rewound::checks::detail {

inline constexpr Eigen::Index departure_terms = summary_terms - 1;  ///< all but the level, which each speed has alone

/// A reading of the channel. Variances are of ln value and of ln voltage, independent from reading to reading.
struct channel_point {
  std::size_t run = 0;
  double z = 0.0;
  double log_value = 0.0;
  double variance = 0.0;
  double variance_of_z = 0.0;
  double slope = 0.0;         ///< of the curve there, d ln value / d ln voltage
  double curvature = 0.0;     ///< half of its second derivative
  double beyond = 0.0;        ///< uncertainty beyond the tabulated voltages
  Eigen::VectorXd functions;  ///< as basis() has them
};

/// One belief of how the curves of a test depart from what is known of them.
struct curve_belief {
  double log_weight = 0.0;
  std::vector<Eigen::VectorXd> mean;        ///< by run
  std::vector<Eigen::MatrixXd> own_factor;  ///< by run: of the covariance of its own departure, level included
  Eigen::VectorXd common;                   ///< standard deviations of the departure that all speeds share
};

/// What a belief with one size of scatter makes of the readings: ln of its evidence, and of each reading how far it
/// lies from what the others make one expect, with the variance of that.
struct together_component {
  double log_evidence = 0.0;
  std::vector<double> away, variance;
};

/// Slopes and curvatures of every point's curve: a parabola for each speed, believed to rise as this channel does.
inline void set_slopes(std::vector<channel_point>& points, std::size_t runs, double usual_slope) {
  constexpr double slope_spread = 0.8, curvature_spread = 0.7, scatter = 0.01;  // common practice, no source
  for (std::size_t run = 0; run < runs; ++run) {
    Eigen::MatrixXd inner = Eigen::MatrixXd::Zero(3, 3);
    Eigen::VectorXd sum = Eigen::VectorXd::Zero(3);
    sum[1] = usual_slope / (slope_spread * slope_spread);
    inner(1, 1) = 1.0 / (slope_spread * slope_spread);
    inner(2, 2) = 1.0 / (curvature_spread * curvature_spread);
    bool any = false;
    for (const auto& point : points)
      if (point.run == run) {
        for (Eigen::Index i = 0; i < 3; ++i) {
          const double weighted = point.functions[i] / (scatter * scatter);
          for (Eigen::Index j = 0; j < 3; ++j) inner(j, i) += weighted * point.functions[j];
          sum[i] += weighted * point.log_value;
        }
        any = true;
      }
    if (!any) continue;
    const Eigen::VectorXd curve = fit::cholesky_factor(inner).solve(sum);
    for (auto& point : points)
      if (point.run == run) {
        point.slope = curve[1] + 2.0 * curve[2] * point.z;
        point.curvature = curve[2];
      }
  }
}

/// The inner matrix of Woodbury's identity, an arrow: a block for each speed's own coefficients, one for what all
/// share, and what the residuals come to in it. Matrices lie by columns.
class together_arrow {
 public:
  together_arrow(const std::vector<channel_point>& points, const curve_belief& belief,
                 const std::vector<double>& weight, std::size_t runs)
      : blocks_(runs) {
    for (auto& block : blocks_)
      for (std::size_t k = 0; k < own; ++k) block.inner[k * own + k] = 1.0;
    for (std::size_t k = 0; k < common; ++k) shared_[k * common + k] = 1.0;
    for (std::size_t i = 0; i < points.size(); ++i) add(points[i], belief, weight[i]);
    for (auto& block : blocks_) {
      fit::factorise(block.inner.data(), summary_terms);  // the unit matrix and squares: positive definite
      fit::solve_lower(block.inner.data(), summary_terms, block.sum.data());
      for (std::size_t k = 0; k < common; ++k)
        fit::solve_lower(block.inner.data(), summary_terms, block.across.data() + k * own);
      for (std::size_t k = 0; k < common; ++k) {
        const double* column = block.across.data() + k * own;
        for (std::size_t row = k; row < common; ++row)
          shared_[k * common + row] -= along(block.across.data() + row * own, column);
        shared_sum_[k] -= along(column, block.sum.data());
      }
      for (std::size_t k = 0; k < own; ++k) log_determinant_ += 2.0 * std::log(block.inner[k * own + k]);
    }
    fit::factorise(shared_.data(), departure_terms);
    fit::solve_lower(shared_.data(), departure_terms, shared_sum_.data());
    for (std::size_t k = 0; k < common; ++k) log_determinant_ += 2.0 * std::log(shared_[k * common + k]);
  }

  together_component component(const std::vector<channel_point>& points, const std::vector<double>& weight,
                               double log_weight) const {
    together_component out;
    double square = 0.0;
    for (std::size_t i = 0; i < points.size(); ++i) {
      const auto& block = blocks_[points[i].run];
      auto [of_own, of_common] = loadings_[i];
      fit::solve_lower(block.inner.data(), summary_terms, of_own.data());
      for (std::size_t k = 0; k < common; ++k) of_common[k] -= along(block.across.data() + k * own, of_own.data());
      fit::solve_lower(shared_.data(), departure_terms, of_common.data());
      double told = along(of_own.data(), block.sum.data()), length = along(of_own.data(), of_own.data());
      for (std::size_t k = 0; k < common; ++k) {
        told += of_common[k] * shared_sum_[k];
        length += of_common[k] * of_common[k];
      }
      const double pull = weight[i] * (residual_[i] - told);
      const double diagonal = weight[i] * (1.0 - weight[i] * length);
      square += pull * residual_[i];
      out.away.push_back(pull / diagonal);
      out.variance.push_back(1.0 / diagonal);
    }
    out.log_evidence = log_weight - 0.5 * (square + log_determinant_);
    return out;
  }

 private:
  static constexpr auto own = static_cast<std::size_t>(summary_terms);
  static constexpr auto common = static_cast<std::size_t>(departure_terms);

  struct loading {
    std::array<double, own> of_own;
    std::array<double, common> of_common;
  };

  /// Of one speed; after its factor has been taken, the sides and the sum are those seen through it.
  struct speed_block {
    std::array<double, own * own> inner{};
    std::array<double, own * common> across{};
    std::array<double, own> sum{};
  };

  static double along(const double* a, const double* b) {
    double sum = 0.0;
    for (std::size_t k = 0; k < own; ++k) sum += a[k] * b[k];
    return sum;
  }

  void add(const channel_point& point, const curve_belief& belief, double weight) {
    const double* functions = point.functions.data();
    const double* factor = belief.own_factor[point.run].data();
    auto& [of_own, of_common] = loadings_.emplace_back();
    for (std::size_t k = 0; k < own; ++k) of_own[k] = along(factor + k * own, functions);
    for (std::size_t k = 0; k < common; ++k)
      of_common[k] = belief.common[static_cast<Eigen::Index>(k)] * functions[k + 1];
    residual_.push_back(point.log_value - along(functions, belief.mean[point.run].data()));
    auto& block = blocks_[point.run];
    for (std::size_t k = 0; k < own; ++k) {
      const double weighted = weight * of_own[k];
      for (std::size_t row = k; row < own; ++row) block.inner[k * own + row] += weighted * of_own[row];
      block.sum[k] += weighted * residual_.back();
    }
    for (std::size_t k = 0; k < common; ++k) {
      const double weighted = weight * of_common[k];
      for (std::size_t row = 0; row < own; ++row) block.across[k * own + row] += weighted * of_own[row];
      for (std::size_t row = k; row < common; ++row) shared_[k * common + row] += weighted * of_common[row];
      shared_sum_[k] += weighted * residual_.back();
    }
    log_determinant_ -= std::log(weight);
  }

  std::vector<loading> loadings_;
  std::vector<double> residual_;
  std::vector<speed_block> blocks_;
  std::array<double, common * common> shared_{};
  std::array<double, common> shared_sum_{};
  double log_determinant_ = 0.0;
};

/// All beliefs with all sizes of scatter, these of one belief side by side; without how often each size is met.
inline std::vector<together_component> weigh_together(const std::vector<channel_point>& points, std::size_t runs,
                                                      const std::vector<curve_belief>& beliefs) {
  std::vector<together_component> out;
  for (const auto& belief : beliefs)
    for (const auto& scatter : extra_scatters) {
      // A bench that reads unsteadily reads both meters so.
      std::vector<double> weight;
      for (const auto& point : points) {
        const double slope = point.slope * point.slope;
        weight.push_back(1.0 / (point.variance + slope * point.variance_of_z + point.beyond * point.beyond +
                                0.5 * (1.0 + slope) * scatter.deviation * scatter.deviation));
      }
      const together_arrow arrow(points, belief, weight, runs);
      out.push_back(arrow.component(points, weight, belief.log_weight));
    }
  return out;
}

}  // namespace rewound::checks::detail
