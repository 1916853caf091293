// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <cstdint>
#include <numeric>
#include <utility>
#include <vector>

#include <Eigen/Core>

#include <boost/random/mersenne_twister.hpp>
#include <boost/random/normal_distribution.hpp>
#include <boost/random/uniform_01.hpp>

#include <rewound/base/compiled.hpp>
#include <rewound/base/expect.hpp>
#include <rewound/checks/detail/whitened.hpp>
#include <rewound/checks/next_measurement.hpp>
#include <rewound/fit/dense.hpp>

namespace rewound::checks {

REWOUND_INLINE double entropy_bits(const std::vector<double>& probabilities) {
  double sum = 0.0;
  for (const double p : probabilities)
    if (p > 0.0) sum -= p * std::log2(p);
  return sum;
}

namespace detail {

inline void expect_fitting(const proposed_measurement& next, Eigen::Index deviations) {
  const Eigen::Index values = next.observation.rows();
  base::expect(values > 0 && next.observation.cols() == deviations, "proposed",
               static_cast<double>(next.observation.cols()),
               "at least one value, and as many columns as there are deviations");
  expect_square(next.noise, values, "proposed", "as many rows and columns of noise as there are values");
  for (const auto row : next.telling)
    base::expect(row >= 0 && row < values, "telling", static_cast<double>(row), "an index of a value");
}

/// Ways the machine may be, with their probability after what is observed.
struct weighed_alternatives {
  std::vector<Eigen::VectorXd> mean;
  std::vector<std::size_t> cause;
  std::vector<double> probability;
};

/// Shares that sum to 1, from the logarithms of what they are in proportion to.
inline void to_shares(std::vector<double>& logs) {
  const double most = *std::max_element(logs.begin(), logs.end());
  double sum = 0.0;
  for (double& each : logs) sum += each = std::exp(each - most);
  for (double& each : logs) each /= sum;
}

/// @param seen  factor of the covariance of what is observed
inline weighed_alternatives after_observing(const next_measurement_input& in, const fit::cholesky_factor& seen) {
  const Eigen::MatrixXd map = whitening(in.observed.observation, seen);
  const Eigen::VectorXd values = seen.whitened(in.observed.values);
  weighed_alternatives all;
  std::vector<double> log_weight;
  const double wider = in.model.wider_probability;
  // Each alternative counts with all its scatter, and is looked at from its points.
  const auto add = [&](const alternative& each, std::size_t cause, double total) {
    const double whole = in.log_prior[cause] + std::log(each.weight / total) + log_density_of(each, map, values, wider);
    const auto points = in_points(each);
    std::vector<double> share;
    for (const auto& point : points)
      share.push_back(std::log(point.weight) + log_density_of(point, map, values, wider));
    to_shares(share);
    for (std::size_t i = 0; i < points.size(); ++i) {
      all.mean.push_back(points[i].mean);
      all.cause.push_back(cause);
      log_weight.push_back(whole + std::log(std::max(share[i], 1e-300)));
    }
  };
  std::vector<double> total(in.log_prior.size(), 0.0);
  for (const auto& each : in.model.healthy) total[in.healthy_cause] += each.weight;
  for (const auto& each : in.model.healthy) add(each, in.healthy_cause, total[in.healthy_cause]);
  std::fill(total.begin(), total.end(), 0.0);
  for (const auto& each : in.model.faulty) total[each.cause] += each.weight;
  for (const auto& each : in.model.faulty) add(each, each.cause, total[each.cause]);
  const double most = *std::max_element(log_weight.begin(), log_weight.end());
  double sum = 0.0;
  for (auto& each : log_weight) sum += each = std::exp(each - most);
  weighed_alternatives kept;
  constexpr double negligible = 3e-4;
  double left = 0.0;
  for (std::size_t i = 0; i < log_weight.size(); ++i) {
    if (log_weight[i] < negligible * sum) continue;
    kept.mean.push_back(all.mean[i]);
    kept.cause.push_back(all.cause[i]);
    kept.probability.push_back(log_weight[i]);
    left += log_weight[i];
  }
  for (auto& each : kept.probability) each /= left;
  return kept;
}

inline std::vector<double> by_cause(const weighed_alternatives& in, const std::vector<double>& probability,
                                    std::size_t causes) {
  std::vector<double> out(causes, 0.0);
  for (std::size_t i = 0; i < in.cause.size(); ++i) out[in.cause[i]] += probability[i];
  return out;
}

/// What a proposed measurement would give under each alternative, given what is observed already.
struct forecast {
  Eigen::MatrixXd means;        ///< one column an alternative
  fit::cholesky_factor factor;  ///< of the covariance that they share
};

inline forecast forecast_of(const next_measurement_input& in, const proposed_measurement& next,
                            const weighed_alternatives& ways, const fit::cholesky_factor& seen) {
  const auto& o = in.observed.observation;
  const Eigen::MatrixXd cross =
      fit::product(o, fit::product(in.model.covariance, fit::transposed(next.observation)));  // with what is seen
  const Eigen::MatrixXd gain = fit::transposed(seen.solve_columns(cross));
  Eigen::MatrixXd covariance = fit::carried(next.observation, in.model.covariance);
  covariance += next.noise;
  covariance -= fit::product(gain, cross);
  forecast out{Eigen::MatrixXd(next.observation.rows(), static_cast<Eigen::Index>(ways.mean.size())),
               fit::cholesky_factor(std::move(covariance))};
  base::expect(out.factor.is_positive_definite(), "proposed", 0.0, "a positive definite covariance");
  for (std::size_t i = 0; i < ways.mean.size(); ++i) {
    const Eigen::VectorXd left = in.observed.values - fit::applied(o, ways.mean[i]);
    const Eigen::VectorXd mean = fit::applied(next.observation, ways.mean[i]) + fit::applied(gain, left);
    std::copy_n(mean.data(), mean.size(), out.means.data() + static_cast<Eigen::Index>(i) * mean.size());
  }
  return out;
}

/// Outcomes that were drawn, apart by whether they came out high, as expected, or low.
struct drawn_outcomes {
  std::array<std::vector<double>, 3> sums;  ///< of the causes' probabilities afterwards
  std::array<int, 3> counts{};
  double entropy = 0.0;  ///< sum of what is left of the uncertainty

  void add(std::size_t kind, const std::vector<double>& causes) {
    ++counts[kind];
    for (std::size_t c = 0; c < causes.size(); ++c) sums[kind][c] += causes[c];
    entropy += entropy_bits(causes);
  }

  outcome_meaning meaning(std::size_t kind, std::size_t draws) const {
    outcome_meaning out{static_cast<double>(counts[kind]) / static_cast<double>(draws)};
    if (counts[kind] == 0) return out;
    const auto best = std::max_element(sums[kind].begin(), sums[kind].end());
    out.cause = static_cast<std::size_t>(best - sums[kind].begin());
    out.cause_probability = *best / counts[kind];
    return out;
  }
};

/// The alternatives' probabilities after one more outcome, given in coordinates in which its covariance is the unit
/// matrix.
///
/// @param means    in these coordinates, one column an alternative
/// @param squares  of the lengths of the means
inline std::vector<double> after_outcome(const Eigen::VectorXd& point, const Eigen::MatrixXd& means,
                                         const std::vector<double>& squares, const std::vector<double>& before) {
  const Eigen::VectorXd along = fit::applied_transposed(means, point);
  std::vector<double> out = squares;
  for (std::size_t i = 0; i < out.size(); ++i) out[i] -= 2.0 * along[static_cast<Eigen::Index>(i)];
  const double nearest = *std::min_element(out.begin(), out.end());
  double sum = 0.0;
  for (std::size_t i = 0; i < out.size(); ++i) sum += out[i] = before[i] * std::exp(0.5 * (nearest - out[i]));
  for (double& each : out) each /= sum;
  return out;
}

/// What a healthy machine is expected to show, in the sum of the values that are called high or low.
inline double healthy_sum(const forecast& cast, const weighed_alternatives& ways, const Eigen::VectorXd& telling,
                          std::size_t healthy_cause) {
  const Eigen::VectorXd told = fit::applied_transposed(cast.means, telling);
  double sum = 0.0, weight = 0.0;
  for (std::size_t i = 0; i < ways.cause.size(); ++i) {
    if (ways.cause[i] != healthy_cause) continue;
    sum += ways.probability[i] * told[static_cast<Eigen::Index>(i)];
    weight += ways.probability[i];
  }
  return weight > 0.0 ? sum / weight : 0.0;
}

inline measurement_worth worth_of(const next_measurement_input& in, const proposed_measurement& next,
                                  const weighed_alternatives& ways, const fit::cholesky_factor& seen) {
  const auto cast = forecast_of(in, next, ways, seen);
  const Eigen::MatrixXd means = cast.factor.whitened_columns(cast.means);
  const Eigen::Index values = means.rows();
  std::vector<double> squares;
  for (Eigen::Index i = 0; i < means.cols(); ++i) {
    const double* mean = means.data() + i * values;
    squares.push_back(std::inner_product(mean, mean + values, mean, 0.0));
  }
  const auto& now = ways.probability;
  Eigen::VectorXd telling = Eigen::VectorXd::Zero(next.observation.rows());
  for (const auto row : next.telling) telling[row] = 1.0;
  const Eigen::VectorXd by = fit::applied_transposed(cast.factor.lower(), telling);  // of the point drawn
  const double spread = by.norm();
  const double centre = healthy_sum(cast, ways, telling, in.healthy_cause);
  constexpr std::uint32_t seed = 20260514;  // fixed: one record gives one judgement
  boost::random::mt19937 random(seed);
  boost::random::normal_distribution<double> normal;
  boost::random::uniform_01<double> uniform;
  const auto causes = in.log_prior.size();
  drawn_outcomes drawn;
  drawn.sums.fill(std::vector<double>(causes, 0.0));
  for (std::size_t draw = 0; draw < in.draws; ++draw) {
    const auto truth = index_of_share(ways.probability, uniform(random));
    Eigen::VectorXd point(values);
    for (Eigen::Index i = 0; i < values; ++i) point[i] = means(i, static_cast<Eigen::Index>(truth)) + normal(random);
    const double away = fit::dot(by, point) - centre;
    drawn.add(away > spread    ? 0
              : away < -spread ? 2
                               : 1,
              by_cause(ways, after_outcome(point, means, squares, now), causes));
  }
  const double before = entropy_bits(by_cause(ways, now, causes));
  return {told_bits(before - drawn.entropy / static_cast<double>(in.draws)), drawn.meaning(0, in.draws),
          drawn.meaning(1, in.draws), drawn.meaning(2, in.draws)};
}

}  // namespace detail

REWOUND_INLINE std::vector<measurement_worth> next_measurement(const next_measurement_input& in) {
  base::expect(in.log_prior.size() == in.model.causes && in.draws > 0, "log_prior",
               static_cast<double>(in.log_prior.size()), "one value a cause");
  base::expect(in.healthy_cause < in.model.causes, "healthy_cause", static_cast<double>(in.healthy_cause),
               "an index of a cause");
  detail::expect_agreeing(in.observed, in.model);
  for (const auto& each : in.proposed) detail::expect_fitting(each, in.observed.observation.cols());
  const auto& o = in.observed.observation;
  const fit::cholesky_factor seen(fit::carried(o, in.model.covariance) + in.observed.noise);
  base::expect(seen.is_positive_definite(), "covariance", 0.0, "a positive definite matrix");
  const auto ways = detail::after_observing(in, seen);
  std::vector<measurement_worth> out;
  for (const auto& each : in.proposed) out.push_back(detail::worth_of(in, each, ways, seen));
  return out;
}

}  // namespace rewound::checks
