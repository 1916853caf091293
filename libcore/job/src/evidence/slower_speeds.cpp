// SPDX-License-Identifier: MIT
#include "evidence/slower_speeds.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <utility>

#include <rewound/fit/dense.hpp>

namespace rewound::job {

namespace {

/// The rows of the observation that tell of slower speeds without their currents: the fastest speed's, and all rpm.
std::vector<Eigen::Index> telling_rows(const std::vector<evidence_block>& blocks) {
  std::vector<Eigen::Index> out;
  Eigen::Index row = 0;
  for (const auto& block : blocks) {
    if (!block.observed()) continue;
    const bool tells = block.step == 0 || block.what == fit::channel::rotation;
    for (Eigen::Index k = 0; k < fit::parabola_terms; ++k, ++row)
      if (tells) out.push_back(row);
  }
  return out;
}

/// Healthy designs under what was read: each one's share, and how a coefficient follows the readings.
struct designs_given_readings {
  explicit designs_given_readings(const electrical_evidence& in) : model_(in.model) {
    const auto rows = telling_rows(in.blocks);
    const auto n = static_cast<Eigen::Index>(rows.size());
    observation_.resize(n, in.observed.observation.cols());
    values_.resize(n);
    Eigen::MatrixXd covariance(n, n);
    for (Eigen::Index i = 0; i < n; ++i) {
      const auto at = rows[static_cast<std::size_t>(i)];
      fit::put_row(observation_, i, fit::row_of(in.observed.observation, at));
      values_[i] = in.observed.values[at];
      for (Eigen::Index j = 0; j < n; ++j) covariance(i, j) = in.observed.noise(at, rows[static_cast<std::size_t>(j)]);
    }
    covariance += fit::carried(observation_, model_.covariance);
    root_ = fit::cholesky_factor(std::move(covariance));
    weigh();
  }

  measurement::uncertain<double> coefficient(Eigen::Index place) const {
    const Eigen::VectorXd with_readings = fit::applied(observation_, model_.covariance.col(place));
    const Eigen::VectorXd follows = root_.solve(with_readings);
    const double left = model_.covariance(place, place) - fit::dot(with_readings, follows);
    double mean = 0.0, square = 0.0;
    for (std::size_t i = 0; i < model_.healthy.size(); ++i) {
      const auto& design = model_.healthy[i].mean;
      const double value = design[place] + fit::dot(follows, values_ - fit::applied(observation_, design));
      mean += share_[i] * value;
      square += share_[i] * value * value;
    }
    return {mean, std::sqrt(std::max(left, 0.0) + std::max(square - mean * mean, 0.0))};
  }

 private:
  void weigh() {
    double highest = -std::numeric_limits<double>::infinity(), all = 0.0;
    for (std::size_t i = 0; i < model_.healthy.size(); ++i) {
      const auto& design = model_.healthy[i];
      const Eigen::VectorXd off = values_ - fit::applied(observation_, design.mean);
      share_.push_back(std::log(design.weight) - 0.5 * fit::dot(off, root_.solve(off)));
      highest = std::max(highest, share_.back());
    }
    for (auto& each : share_) {
      each = std::exp(each - highest);
      all += each;
    }
    for (auto& each : share_) each /= all;
  }

  const checks::fault_model& model_;
  Eigen::MatrixXd observation_;
  Eigen::VectorXd values_;
  fit::cholesky_factor root_;
  std::vector<double> share_;
};

}  // namespace

std::vector<std::optional<measurement::uncertain<double>>> slower_by_fastest(const electrical_evidence& by_nameplate,
                                                                             std::size_t speeds) {
  std::vector<std::optional<measurement::uncertain<double>>> out(speeds);
  const designs_given_readings given(by_nameplate);
  for (std::size_t i = 0; i < by_nameplate.blocks.size(); ++i) {
    const auto& block = by_nameplate.blocks[i];
    if (block.step > 0 && block.what == fit::channel::current)
      out[block.step] = given.coefficient(static_cast<Eigen::Index>(3 * i));
  }
  return out;
}

}  // namespace rewound::job
