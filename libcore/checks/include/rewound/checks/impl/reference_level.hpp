// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cmath>
#include <map>
#include <vector>

#include <Eigen/Core>

#include <rewound/base/compiled.hpp>
#include <rewound/checks/reference_level.hpp>
#include <rewound/fit/dense.hpp>
#include <rewound/fit/mean_shape.hpp>
#include <rewound/fit/pooling.hpp>
#include <rewound/measurement/distribution.hpp>
#include <rewound/measurement/uncertain.hpp>

namespace rewound::checks {

namespace detail {

/// Coefficients of a block that its readings do not test are taken to differ from the mean as good machines do.
struct block_estimate {
  Eigen::VectorXd difference;
  Eigen::MatrixXd covariance;
};

inline block_estimate estimate(const block_comparison& block, const fit::population& population) {
  const auto own = fit::parabola_of(block.information, block.shape);
  Eigen::MatrixXd precision = own.precision;
  for (Eigen::Index i = block.tested; i < 3; ++i) {
    const Eigen::Index at = block.place + i;
    precision(i, i) += 1.0 / (population.between(at, at) + population.mean_covariance(at, at));
  }
  const Eigen::MatrixXd covariance = fit::symmetric_inverse(precision);
  const Eigen::VectorXd mean = fit::part(population.mean, block.place, 3);
  return {fit::applied(covariance, own.weighted - fit::applied(own.precision, mean)),
          covariance + fit::covariance_from_shape(block.information, block.shape, covariance)};
}

/// p-value of a quadratic form whose covariance was estimated with `dof` degrees of freedom (Hotelling's T-squared:
/// T. W. Anderson, An Introduction to Multivariate Statistical Analysis, 3rd ed. (2003), 5.2).
inline double quadratic_p_value(double square, int dimensions, double dof) {
  const double d = dimensions;
  if (!(dof > d + 1.0) || std::isinf(dof)) return measurement::chi_squared_tail(square, d);
  return measurement::fisher_tail(square * (dof - d + 1.0) / (dof * d), d, dof - d + 1.0);
}

inline Eigen::MatrixXd level_covariance(const reference_level_input& in, const std::vector<block_estimate>& estimates) {
  const auto n = static_cast<Eigen::Index>(in.blocks.size());
  Eigen::MatrixXd out(n, n);
  for (Eigen::Index i = 0; i < n; ++i)
    for (Eigen::Index j = 0; j < n; ++j) {
      const auto& a = in.blocks[static_cast<std::size_t>(i)];
      const auto& b = in.blocks[static_cast<std::size_t>(j)];
      out(i, j) = in.population.mean_covariance(a.place, b.place);
      if (i == j) out(i, j) += estimates[static_cast<std::size_t>(i)].covariance(0, 0);
      if (a.gain_group == b.gain_group) out(i, j) += a.gain_uncertainty * b.gain_uncertainty;
    }
  return out;
}

/// How the allowed false alarms are shared among what a fault may look like (project's choice): anything at all, all
/// levels of one channel off alike, one level off by itself.
inline constexpr double share_of_any = 0.5;
inline constexpr double share_of_common = 0.3;
inline constexpr double share_of_one = 0.2;

/// Where a block's level stands in the difference, and the channel it is of.
struct level_row {
  Eigen::Index row;
  int channel;
};

/// p-value of the test that asks in several directions at once, each given its share (C. E. Bonferroni's inequality):
/// a test for any deviation alone is blind to a moderate one that all speeds have in common.
inline double combined_p_value(const Eigen::MatrixXd& inverse, const Eigen::VectorXd& difference,
                               const std::vector<level_row>& levels, double dof) {
  const Eigen::VectorXd score = fit::applied(inverse, difference);
  const double any = quadratic_p_value(fit::dot(difference, score), static_cast<int>(difference.size()), dof);
  if (difference.size() == 1) return any;
  double least = any / share_of_any;
  std::map<int, Eigen::VectorXd> common;  // by channel: all of its levels off alike
  for (const auto& level : levels) {
    const double alone = quadratic_p_value(score[level.row] * score[level.row] / inverse(level.row, level.row), 1, dof);
    least = std::min(least, alone * static_cast<double>(levels.size()) / share_of_one);
    common.try_emplace(level.channel, Eigen::VectorXd::Zero(difference.size())).first->second[level.row] = 1.0;
  }
  for (const auto& [unused, direction] : common) {
    const double along = fit::dot(direction, score);
    const double square = fit::dot(direction, fit::applied(inverse, direction));
    const double alike = quadratic_p_value(along * along / square, 1, dof);
    least = std::min(least, alike * static_cast<double>(common.size()) / share_of_common);
  }
  return std::min(1.0, least);
}

}  // namespace detail

REWOUND_INLINE reference_level_result reference_level(const reference_level_input& in) {
  reference_level_result out;
  std::vector<detail::block_estimate> estimates;
  for (const auto& block : in.blocks) {
    estimates.push_back(detail::estimate(block, in.population));
    const auto& own = estimates.back();
    const double mean_variance = in.population.mean_covariance(block.place, block.place);
    out.log_level_own.push_back(std::sqrt(own.covariance(0, 0)));
    const double measured = own.covariance(0, 0) + mean_variance + block.gain_uncertainty * block.gain_uncertainty;
    out.log_level.push_back({own.difference[0], std::sqrt(measured)});
    out.log_level_spread.push_back(std::sqrt(measured + in.population.between(block.place, block.place)));
    out.tested += block.tested;
  }
  out.level_covariance = detail::level_covariance(in, estimates);
  if (out.tested == 0) return out;
  std::vector<detail::level_row> levels;
  Eigen::VectorXd difference(out.tested);
  Eigen::MatrixXd covariance = Eigen::MatrixXd::Zero(out.tested, out.tested);
  Eigen::Index row = 0;
  for (std::size_t a = 0; a < in.blocks.size(); ++a) {
    if (in.blocks[a].tested > 0) levels.push_back({row, in.blocks[a].gain_group});
    for (Eigen::Index i = 0; i < in.blocks[a].tested; ++i, ++row) {
      difference[row] = estimates[a].difference[i];
      Eigen::Index column = 0;
      for (std::size_t b = 0; b < in.blocks.size(); ++b)
        for (Eigen::Index j = 0; j < in.blocks[b].tested; ++j, ++column) {
          const Eigen::Index p = in.blocks[a].place + i;
          const Eigen::Index q = in.blocks[b].place + j;
          covariance(row, column) = in.population.between(p, q) + in.population.mean_covariance(p, q);
          if (a == b) covariance(row, column) += estimates[a].covariance(i, j);
          if (i == 0 && j == 0 && in.blocks[a].gain_group == in.blocks[b].gain_group)
            covariance(row, column) += in.blocks[a].gain_uncertainty * in.blocks[b].gain_uncertainty;
        }
    }
  }
  const Eigen::MatrixXd inverse = fit::symmetric_inverse(covariance);
  out.p_value = detail::combined_p_value(inverse, difference, levels, in.population.degrees_of_freedom);
  return out;
}

}  // namespace rewound::checks
