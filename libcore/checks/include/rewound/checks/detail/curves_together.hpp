// SPDX-License-Identifier: MIT
#pragma once

#include <array>
#include <cmath>
#include <cstddef>
#include <optional>
#include <utility>
#include <vector>

#include <Eigen/Cholesky>
#include <Eigen/Core>

#include <rewound/checks/detail/curve_evidence.hpp>
#include <rewound/checks/detail/summary_basis.hpp>
#include <rewound/fit/summary_block.hpp>

// One channel's readings on all speeds of a test together: what each reading is expected to be by all others, of its
// own speed and of the others, and by the curve that is known of the model, where one is. Every speed's curve is what
// is known, plus a departure that all speeds share, plus one of its own; how much of each, and how the bench scatters,
// the readings tell by their evidence. Sources: C. E. Rasmussen, C. K. I. Williams, Gaussian Processes for Machine
// Learning (2006), 5.4.2 (each reading against all others from one inverse), A.3 (Woodbury).
namespace rewound::checks::detail {

using curve_vector = Eigen::Matrix<double, summary_terms, 1>;
using curve_matrix = Eigen::Matrix<double, summary_terms, summary_terms>;
inline constexpr Eigen::Index departure_terms = summary_terms - 1;  ///< all but the level, which each speed has alone
using departure_vector = Eigen::Matrix<double, departure_terms, 1>;
using departure_matrix = Eigen::Matrix<double, departure_terms, departure_terms>;

/// A reading of the channel. Variances are of ln value and of ln voltage, independent from reading to reading.
struct channel_point {
  std::size_t run = 0;
  double z = 0.0;
  double log_value = 0.0;
  double variance = 0.0;
  double variance_of_z = 0.0;
  double slope = 0.0;      ///< of the curve there, d ln value / d ln voltage
  double curvature = 0.0;  ///< half of its second derivative
  double beyond = 0.0;     ///< uncertainty beyond the tabulated voltages
  curve_vector functions = curve_vector::Zero();
};

/// One belief of how the curves of a test depart from what is known of them.
struct curve_belief {
  double log_weight = 0.0;
  std::vector<curve_vector> mean;        ///< by run
  std::vector<curve_matrix> own_factor;  ///< by run: of the covariance of its own departure, level included
  departure_vector common;               ///< standard deviations of the departure that all speeds share
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
    Eigen::Matrix3d inner = Eigen::Matrix3d::Zero();
    Eigen::Vector3d sum(0.0, usual_slope / (slope_spread * slope_spread), 0.0);
    inner(1, 1) = 1.0 / (slope_spread * slope_spread);
    inner(2, 2) = 1.0 / (curvature_spread * curvature_spread);
    bool any = false;
    for (const auto& point : points)
      if (point.run == run) {
        const Eigen::Vector3d row = point.functions.head<3>();
        inner += row * row.transpose() / (scatter * scatter);
        sum += row * (point.log_value / (scatter * scatter));
        any = true;
      }
    if (!any) continue;
    const Eigen::Vector3d curve = inner.ldlt().solve(sum);
    for (auto& point : points)
      if (point.run == run) {
        point.slope = curve[1] + 2.0 * curve[2] * point.z;
        point.curvature = curve[2];
      }
  }
}

/// The inner matrix of Woodbury's identity, an arrow: a block for each speed's own coefficients, one for what all
/// share, and what the residuals come to in it.
class together_arrow {
 public:
  together_arrow(const std::vector<channel_point>& points, const curve_belief& belief,
                 const std::vector<double>& weight, std::size_t runs)
      : own_(runs), across_(runs), own_sum_(runs, curve_vector::Zero()) {
    std::vector<curve_matrix> blocks(runs, curve_matrix::Identity());
    std::vector<across> sides(runs, across::Zero());
    departure_matrix shared = departure_matrix::Identity();
    for (std::size_t i = 0; i < points.size(); ++i) {
      const auto& point = points[i];
      loadings_.push_back({belief.own_factor[point.run].transpose() * point.functions,
                           belief.common.cwiseProduct(point.functions.tail<departure_terms>())});
      const auto& [own, common] = loadings_.back();
      residual_.push_back(point.log_value - point.functions.dot(belief.mean[point.run]));
      const curve_vector weighted = weight[i] * own;
      const departure_vector weighted_common = weight[i] * common;
      blocks[point.run].noalias() += weighted * own.transpose();
      sides[point.run].noalias() += weighted * common.transpose();
      shared.noalias() += weighted_common * common.transpose();
      own_sum_[point.run] += weighted * residual_.back();
      shared_sum_ += weighted_common * residual_.back();
      log_determinant_ -= std::log(weight[i]);
    }
    for (std::size_t run = 0; run < runs; ++run) {
      own_[run].compute(blocks[run]);
      across_[run] = sides[run];
      own_[run].matrixL().solveInPlace(across_[run]);
      own_[run].matrixL().solveInPlace(own_sum_[run]);
      shared.noalias() -= across_[run].transpose() * across_[run];
      shared_sum_.noalias() -= across_[run].transpose() * own_sum_[run];
      log_determinant_ += 2.0 * own_[run].matrixLLT().diagonal().array().log().sum();
    }
    shared_.compute(shared);
    shared_.matrixL().solveInPlace(shared_sum_);
    log_determinant_ += 2.0 * shared_.matrixLLT().diagonal().array().log().sum();
  }

  together_component component(const std::vector<channel_point>& points, const std::vector<double>& weight,
                               double log_weight) const {
    together_component out;
    double square = 0.0;
    for (std::size_t i = 0; i < points.size(); ++i) {
      const std::size_t run = points[i].run;
      curve_vector own = loadings_[i].first;
      own_[run].matrixL().solveInPlace(own);
      departure_vector common = loadings_[i].second - across_[run].transpose() * own;
      shared_.matrixL().solveInPlace(common);
      const double pull = weight[i] * (residual_[i] - own.dot(own_sum_[run]) - common.dot(shared_sum_));
      const double diagonal = weight[i] * (1.0 - weight[i] * (own.squaredNorm() + common.squaredNorm()));
      square += pull * residual_[i];
      out.away.push_back(pull / diagonal);
      out.variance.push_back(1.0 / diagonal);
    }
    out.log_evidence = log_weight - 0.5 * (square + log_determinant_);
    return out;
  }

 private:
  using across = Eigen::Matrix<double, summary_terms, departure_terms>;
  std::vector<std::pair<curve_vector, departure_vector>> loadings_;
  std::vector<double> residual_;
  std::vector<Eigen::LLT<curve_matrix>> own_;
  std::vector<across> across_;
  std::vector<curve_vector> own_sum_;
  Eigen::LLT<departure_matrix> shared_;
  departure_vector shared_sum_ = departure_vector::Zero();
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
