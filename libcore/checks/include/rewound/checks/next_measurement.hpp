// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <cstdint>
#include <vector>

#include <Eigen/Cholesky>
#include <Eigen/Core>

#include <boost/random/mersenne_twister.hpp>
#include <boost/random/normal_distribution.hpp>
#include <boost/random/uniform_01.hpp>

#include <rewound/base/expect.hpp>
#include <rewound/checks/detail/fault_model.hpp>

namespace rewound::checks {

/// A measurement that was not made yet.
struct proposed_measurement {
  Eigen::MatrixXd observation;  ///< one row a value it would give, one column a deviation
  Eigen::MatrixXd noise;        ///< covariance of its values
  std::vector<Eigen::Index> telling;  ///< rows whose sum is called high or low
};

struct next_measurement_input {
  observed_deviations observed;
  fault_model model;
  std::vector<double> log_prior;  ///< of each cause, by everything but what is observed here; the healthy one's place is `healthy_cause`
  std::size_t healthy_cause = 0;
  std::vector<proposed_measurement> proposed;
  std::size_t draws = 200;
};

/// What a proposed measurement would come to when it comes out high, as expected of a healthy machine, or low.
struct outcome_meaning {
  double probability = 0.0;
  std::size_t cause = 0;           ///< the likeliest one then
  double cause_probability = 0.0;
};

struct measurement_worth {
  double bits = 0.0;  ///< by which it is expected to lower the uncertainty about the cause
  outcome_meaning high, as_expected, low;
};

/// Uncertainty about the cause, in bits. Source: C. E. Shannon, Bell Syst. Tech. J. 27 (1948) 379-423.
inline double entropy_bits(const std::vector<double>& probabilities) {
  double sum = 0.0;
  for (const double p : probabilities)
    if (p > 0.0) sum -= p * std::log2(p);
  return sum;
}

namespace detail {

inline void expect_fitting(const proposed_measurement& next, Eigen::Index deviations) {
  const Eigen::Index values = next.observation.rows();
  base::expect(values > 0 && next.observation.cols() == deviations, "proposed", static_cast<double>(next.observation.cols()),
               "at least one value, and as many columns as there are deviations");
  expect_square(next.noise, values, "proposed", "as many rows and columns of noise as there are values");
  for (const auto row : next.telling)
    base::expect(row >= 0 && row < values, "telling", static_cast<double>(row), "an index of a value");
}

/// Ways the machine may be, with their probability after what is observed.
struct weighed_alternatives {
  std::vector<const alternative*> which;
  std::vector<std::size_t> cause;
  std::vector<double> probability;
};

inline weighed_alternatives after_observing(const next_measurement_input& in) {
  const auto& o = in.observed.observation;
  const Eigen::LLT<Eigen::MatrixXd> factor(o * in.model.covariance * o.transpose() + in.observed.noise);
  base::expect(factor.info() == Eigen::Success, "covariance", 0.0, "a positive definite matrix");
  weighed_alternatives all;
  std::vector<double> log_weight;
  const auto add = [&](const std::vector<alternative>& list, bool healthy) {
    std::vector<double> total(in.log_prior.size(), 0.0);
    for (const auto& each : list) total[healthy ? in.healthy_cause : each.cause] += each.weight;
    for (const auto& each : list) {
      const std::size_t cause = healthy ? in.healthy_cause : each.cause;
      const Eigen::VectorXd away = factor.matrixL().solve(in.observed.values - o * each.mean);
      all.which.push_back(&each);
      all.cause.push_back(cause);
      const Eigen::ArrayXXd square = Eigen::ArrayXXd::Constant(1, 1, away.squaredNorm());
      const double log_density = log_kernel(square, static_cast<double>(away.size()), in.model.wider_probability)(0, 0);
      log_weight.push_back(in.log_prior[cause] + std::log(each.weight / total[cause]) + log_density);
    }
  };
  add(in.model.healthy, true);
  add(in.model.faulty, false);
  const double most = *std::max_element(log_weight.begin(), log_weight.end());
  double sum = 0.0;
  for (auto& each : log_weight) sum += each = std::exp(each - most);
  weighed_alternatives kept;
  constexpr double negligible = 3e-4;
  double left = 0.0;
  for (std::size_t i = 0; i < log_weight.size(); ++i) {
    if (log_weight[i] < negligible * sum) continue;
    kept.which.push_back(all.which[i]);
    kept.cause.push_back(all.cause[i]);
    kept.probability.push_back(log_weight[i]);
    left += log_weight[i];
  }
  for (auto& each : kept.probability) each /= left;
  return kept;
}

inline std::vector<double> by_cause(const weighed_alternatives& in, const std::vector<double>& probability, std::size_t causes) {
  std::vector<double> out(causes, 0.0);
  for (std::size_t i = 0; i < probability.size(); ++i) out[in.cause[i]] += probability[i];
  return out;
}

/// What a proposed measurement would give under each alternative, given what is observed already.
struct forecast {
  Eigen::MatrixXd means;               ///< one row an alternative
  Eigen::LLT<Eigen::MatrixXd> factor;  ///< of the covariance that they share
};

inline forecast forecast_of(const next_measurement_input& in, const proposed_measurement& next, const weighed_alternatives& ways) {
  const auto& o = in.observed.observation;
  const Eigen::MatrixXd cross = next.observation * in.model.covariance * o.transpose();
  const Eigen::LLT<Eigen::MatrixXd> seen(o * in.model.covariance * o.transpose() + in.observed.noise);
  const Eigen::MatrixXd gain = seen.solve(cross.transpose()).transpose();
  forecast out{Eigen::MatrixXd(static_cast<Eigen::Index>(ways.which.size()), next.observation.rows()), {}};
  out.factor.compute(next.observation * in.model.covariance * next.observation.transpose() + next.noise - gain * cross.transpose());
  base::expect(out.factor.info() == Eigen::Success, "proposed", 0.0, "a positive definite covariance");
  for (std::size_t i = 0; i < ways.which.size(); ++i)
    out.means.row(static_cast<Eigen::Index>(i)) =
        (next.observation * ways.which[i]->mean + gain * (in.observed.values - o * ways.which[i]->mean)).transpose();
  return out;
}

inline void tell_meaning(outcome_meaning& out, const std::vector<double>& sums, int count, std::size_t draws) {
  out.probability = static_cast<double>(count) / static_cast<double>(draws);
  if (count == 0) return;
  const auto best = std::max_element(sums.begin(), sums.end());
  out.cause = static_cast<std::size_t>(best - sums.begin());
  out.cause_probability = *best / count;
}

inline measurement_worth worth_of(const next_measurement_input& in, const proposed_measurement& next, const weighed_alternatives& ways) {
  const auto cast = forecast_of(in, next, ways);
  const Eigen::MatrixXd whitened = cast.factor.matrixL().solve(cast.means.transpose()).transpose();
  Eigen::VectorXd telling = Eigen::VectorXd::Zero(next.observation.rows());
  for (const auto row : next.telling) telling[row] = 1.0;
  const Eigen::MatrixXd root = cast.factor.matrixL();
  const double spread = (root.transpose() * telling).norm();
  const auto causes = in.log_prior.size();
  double healthy_sum = 0.0, healthy_weight = 0.0;
  for (std::size_t i = 0; i < ways.cause.size(); ++i)
    if (ways.cause[i] == in.healthy_cause) {
      healthy_sum += ways.probability[i] * telling.dot(cast.means.row(static_cast<Eigen::Index>(i)));
      healthy_weight += ways.probability[i];
    }
  const double centre = healthy_weight > 0.0 ? healthy_sum / healthy_weight : 0.0;
  constexpr std::uint32_t seed = 20260514;  // fixed: one record gives one judgement
  boost::random::mt19937 random(seed);
  boost::random::normal_distribution<double> normal;
  boost::random::uniform_01<double> uniform;
  const double before = entropy_bits(by_cause(ways, ways.probability, causes));
  double after = 0.0;
  std::array<std::vector<double>, 3> sums;
  std::array<int, 3> counts{};
  sums.fill(std::vector<double>(causes, 0.0));
  for (std::size_t draw = 0; draw < in.draws; ++draw) {
    double left = uniform(random);
    std::size_t truth = 0;
    while (truth + 1 < ways.probability.size() && (left -= ways.probability[truth]) > 0.0) ++truth;
    Eigen::VectorXd point = whitened.row(static_cast<Eigen::Index>(truth)).transpose();
    for (Eigen::Index i = 0; i < point.size(); ++i) point[i] += normal(random);
    const Eigen::VectorXd square = (whitened.rowwise() - point.transpose()).rowwise().squaredNorm();
    const double nearest = square.minCoeff();
    std::vector<double> posterior(ways.probability.size());
    double total = 0.0;
    for (std::size_t i = 0; i < posterior.size(); ++i)
      total += posterior[i] = ways.probability[i] * std::exp(-0.5 * (square[static_cast<Eigen::Index>(i)] - nearest));
    for (auto& each : posterior) each /= total;
    const auto causes_then = by_cause(ways, posterior, causes);
    after += entropy_bits(causes_then);
    const double away = telling.dot(root * point) - centre;
    const std::size_t kind = away > spread ? 0 : away < -spread ? 2 : 1;
    ++counts[kind];
    for (std::size_t c = 0; c < causes; ++c) sums[kind][c] += causes_then[c];
  }
  measurement_worth out;
  out.bits = std::max(0.0, before - after / static_cast<double>(in.draws));
  tell_meaning(out.high, sums[0], counts[0], in.draws);
  tell_meaning(out.as_expected, sums[1], counts[1], in.draws);
  tell_meaning(out.low, sums[2], counts[2], in.draws);
  return out;
}

}  // namespace detail

/// By how much each proposed measurement is expected to lower the uncertainty about the cause.
///
/// @throws base::error (precondition) for sizes that do not agree, or a covariance that is not positive definite
/// Source: D. V. Lindley, Ann. Math. Statist. 27 (1956) 986-1005 (expected information of an experiment).
inline std::vector<measurement_worth> next_measurement(const next_measurement_input& in) {
  base::expect(in.log_prior.size() == in.model.causes && in.draws > 0, "log_prior", static_cast<double>(in.log_prior.size()),
               "one value a cause");
  base::expect(in.healthy_cause < in.model.causes, "healthy_cause", static_cast<double>(in.healthy_cause), "an index of a cause");
  detail::expect_agreeing(in.observed, in.model);
  for (const auto& each : in.proposed) detail::expect_fitting(each, in.observed.observation.cols());
  const auto ways = detail::after_observing(in);
  std::vector<measurement_worth> out;
  for (const auto& each : in.proposed) out.push_back(detail::worth_of(in, each, ways));
  return out;
}

}  // namespace rewound::checks
