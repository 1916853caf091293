// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <utility>
#include <vector>

#include <Eigen/Core>

#include <rewound/checks/detail/mixture_kernel.hpp>
#include <rewound/checks/detail/fault_model.hpp>
#include <rewound/fit/dense.hpp>

namespace rewound::checks::detail {

/// Alternatives in coordinates in which the covariance is the unit matrix.
class whitened {
 public:
  whitened() = default;

  /// @param map  from deviations to those coordinates, one row a coordinate
  whitened(const alternative_list& list, const Eigen::MatrixXd& map, double wider_probability)
      : list_(&list.lanes()), dimensions_(static_cast<std::size_t>(map.rows())), wider_probability_(wider_probability) {
    means_ = laned_numbers(list_->means.width, list_->means.count, dimensions_);
    std::vector<std::size_t> used;  // most deviations are not observed
    for (Eigen::Index column = 0; column < map.cols(); ++column) {
      const double* first = map.data() + column * map.rows();
      if (std::any_of(first, first + map.rows(), [](double each) { return each != 0.0; }))
        used.push_back(static_cast<std::size_t>(column));
    }
    loops().map(list_->means, fit::transposed(map).data(), used, means_);
    constexpr double nowhere = 1e30;  // of what fills the last register up: it has no weight, and is never nearest
    squares_.assign(list_->weight.size(), nowhere);
    for (std::size_t i = 0; i < means_.count; ++i) {
      squares_[i] = 0.0;
      for (std::size_t k = 0; k < dimensions_; ++k) squares_[i] += means_.at(i, k) * means_.at(i, k);
    }
  }

  std::size_t size() const { return means_.count; }
  double mean(std::size_t alternative, std::size_t coordinate) const { return means_.at(alternative, coordinate); }
  const std::vector<double>& weight() const { return list_->weight; }
  double wider_probability() const { return wider_probability_; }
  Eigen::Index dimensions() const { return static_cast<Eigen::Index>(dimensions_); }

  /// ln density at each column of `points`, up to the constant of their dimension: a narrow and a wide normal density
  /// about each alternative are added without a logarithm of each, which is what drawn points cost.
  std::vector<double> log_density(const Eigen::MatrixXd& points) const {
    const mixture_shape shape{wide_share(wider_probability_, static_cast<double>(dimensions_)),
                              0.5 / (wider_spread * wider_spread)};
    const auto& weights = weight();
    std::vector<double> out;
    for (Eigen::Index first = 0; first < points.cols(); first += block) {
      const std::vector<double> square = squares_from(points, first);
      for (Eigen::Index i = 0; i < std::min<Eigen::Index>(block, points.cols() - first); ++i)
        out.push_back(loops().log_density(square.data() + static_cast<std::size_t>(i) * weights.size(), weights.data(),
                                          means_.groups(), shape));
    }
    return out;
  }

 private:
  static constexpr auto block = static_cast<Eigen::Index>(points_at_once);

  const mixture_loops& loops() const { return loops_of(list_->means.width); }

  /// Squared distances of a block of points, one row a point; points that are missing from it count as 0.
  std::vector<double> squares_from(const Eigen::MatrixXd& points, Eigen::Index first) const {
    std::vector<double> some(static_cast<std::size_t>(points.rows() * block));
    const double* from = points.data() + first * points.rows();
    std::copy_n(from, points.rows() * std::min(block, points.cols() - first), some.begin());
    std::vector<double> out(points_at_once * squares_.size());
    loops().squares(means_, squares_.data(), some.data(), out.data());
    return out;
  }

  const laned_alternatives* list_ = nullptr;
  std::size_t dimensions_ = 0;
  double wider_probability_ = 0.0;
  laned_numbers means_;
  std::vector<double> squares_;  ///< of the means' lengths
};

/// What of the deviations is seen, in coordinates in which the covariance is the unit matrix.
///
/// @param factor  of the covariance of what is observed
inline Eigen::MatrixXd whitening(const Eigen::MatrixXd& observation, const fit::cholesky_factor& factor) {
  return factor.whitened_columns(observation);
}

/// ln density of one alternative with all its scatter at a point in those coordinates, up to the constant of its
/// dimension; without its weight.
inline double log_density_of(const alternative& in, const Eigen::MatrixXd& map, const Eigen::VectorXd& point,
                             double wider_probability) {
  const Eigen::VectorXd away = point - fit::applied(map, in.mean);
  double square = away.squaredNorm(), log_volume = 0.0;
  if (in.scatter.cols() > 0) {
    const Eigen::MatrixXd scatter = fit::product(map, in.scatter);
    Eigen::MatrixXd wider = fit::transposed_product(scatter, scatter);
    for (Eigen::Index i = 0; i < wider.rows(); ++i) wider(i, i) += 1.0;
    const fit::cholesky_factor root(std::move(wider));
    square = std::max(0.0, square - root.whitened(fit::applied_transposed(scatter, away)).squaredNorm());
    log_volume = root.log_determinant_of_root();
  }
  return log_kernel(square, static_cast<double>(point.size()), wider_probability) - log_volume;
}

}  // namespace rewound::checks::detail
