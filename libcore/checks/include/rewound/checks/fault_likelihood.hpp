// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <cstdint>
#include <limits>
#include <vector>

#include <Eigen/Cholesky>
#include <Eigen/Core>

#include <boost/random/mersenne_twister.hpp>
#include <boost/random/normal_distribution.hpp>
#include <boost/random/uniform_01.hpp>

#include <rewound/base/expect.hpp>
#include <rewound/checks/detail/fault_model.hpp>
#include <rewound/checks/detail/log_sum.hpp>

namespace rewound::checks {

/// Readings and what they are weighed under.
struct fault_likelihood_input {
  observed_deviations observed;
  fault_model model;
  std::size_t draws = 600;   ///< healthy machines drawn for the p-value; 0: none is found
  /// So many drawn machines with a ratio as large are enough: fewer machines are drawn where they come soon. 0: all are drawn.
  std::size_t enough = 0;
};

struct fault_likelihood_result {
  /// ln of each cause's average density over the healthy density; minus infinity for a cause without alternative.
  std::vector<double> log_evidence;
  double log_ratio = 0.0;  ///< of all faults, unknown ones included, over healthy
  double p_value = 1.0;    ///< share of healthy machines whose ratio is as large
};

namespace detail {

/// Alternatives in coordinates in which the covariance is the unit matrix.
struct whitened {
  Eigen::MatrixXd means;       ///< one row an alternative
  Eigen::VectorXd squares;     ///< of their lengths
  Eigen::VectorXd log_weight;  ///< normalised
  double wider_probability;

  /// ln of each alternative's part (column) of the density at each row of `points`, up to the constant that all mixtures
  /// of one dimension share.
  Eigen::ArrayXXd log_parts(const Eigen::MatrixXd& points) const {
    Eigen::MatrixXd square = -2.0 * points * means.transpose();
    square.rowwise() += squares.transpose();
    square.colwise() += points.rowwise().squaredNorm();
    Eigen::ArrayXXd out = log_kernel(square.array().max(0.0), static_cast<double>(points.cols()), wider_probability);
    out.rowwise() += log_weight.transpose().array();
    return out;
  }

  /// ln density at each row of `points`, up to the same constant: a narrow and a wide normal density about each alternative
  /// are added without a logarithm of each, which is what drawn points cost.
  Eigen::VectorXd log_density(const Eigen::MatrixXd& points) const {
    const Eigen::ArrayXd weight = log_weight.array().exp();
    const double wide = wide_share(wider_probability, static_cast<double>(points.cols()));
    constexpr double wide_rate = 0.5 / (wider_spread * wider_spread);
    const double rate = wide > 0.0 ? wide_rate : 0.5;  // of what falls off most slowly
    Eigen::VectorXd out(points.rows());
    Eigen::ArrayXd square(means.rows());
    for (Eigen::Index i = 0; i < points.rows(); ++i) {
      square.matrix().noalias() = squares - 2.0 * (means * points.row(i).transpose());
      square += points.row(i).squaredNorm();
      const double nearest = square.minCoeff();
      double sum = (weight * (rate * nearest - 0.5 * square).exp()).sum();
      if (wide > 0.0) sum += wide * (weight * (wide_rate * (nearest - square)).exp()).sum();
      out[i] = std::log(sum) - rate * nearest;
    }
    return out;
  }
};

/// @param factor  of the covariance of what is observed
inline whitened whiten(const alternative_list& list, const Eigen::MatrixXd& observation,
                       const Eigen::LLT<Eigen::MatrixXd>& factor, double wider_probability) {
  const auto count = static_cast<Eigen::Index>(list.size());
  whitened out{Eigen::MatrixXd(count, factor.rows()), Eigen::VectorXd(count), Eigen::VectorXd(count), wider_probability};
  if (list.empty()) return out;  // Eigen's triangular solver touches the first element of a matrix without columns
  double total = 0.0;
  for (const auto& each : list) total += each.weight;
  Eigen::MatrixXd means(observation.cols(), count);
  for (Eigen::Index column = 0; column < count; ++column) {
    const auto& each = list[static_cast<std::size_t>(column)];
    means.col(column) = each.mean;
    out.log_weight[column] = std::log(each.weight / total);
  }
  out.means = factor.matrixL().solve(observation * means).transpose();
  out.squares = out.means.rowwise().squaredNorm();
  return out;
}

/// Points drawn from the healthy mixture.
class healthy_draws {
 public:
  explicit healthy_draws(const whitened& healthy) : healthy_(healthy), shares_(healthy.log_weight.array().exp()) {}

  /// The next points, one a row.
  Eigen::MatrixXd next(std::size_t count) {
    Eigen::MatrixXd out(static_cast<Eigen::Index>(count), healthy_.means.cols());
    for (Eigen::Index i = 0; i < out.rows(); ++i) {
      const auto which = index_of_share(shares_, uniform_(random_));
      const double stretch = uniform_(random_) < healthy_.wider_probability ? wider_spread : 1.0;
      for (Eigen::Index j = 0; j < out.cols(); ++j) out(i, j) = healthy_.means(which, j) + stretch * normal_(random_);
    }
    return out;
  }

 private:
  static constexpr std::uint32_t seed = 20260514;  // fixed: one record gives one judgement
  const whitened& healthy_;
  Eigen::VectorXd shares_;
  boost::random::mt19937 random_{seed};
  boost::random::normal_distribution<double> normal_;
  boost::random::uniform_01<double> uniform_;
};

/// Share of the drawn ratios at or above `seen`. Beyond the highest tenth the tail is taken to fall exponentially, as
/// the drawn ones do: slower than 1 / ratio where the faults lie far from health. That bound holds for the share itself
/// (A. Markov's inequality).
inline double tail_share(std::vector<double> drawn, double seen) {
  std::sort(drawn.begin(), drawn.end());
  const auto tail = drawn.size() - drawn.size() / 10;
  const double start = drawn[tail];
  const double count = static_cast<double>(drawn.size());
  if (seen <= start) {
    const auto above = static_cast<double>(drawn.end() - std::lower_bound(drawn.begin(), drawn.end(), seen));
    return std::min(1.0, (above + 1.0) / (count + 1.0));
  }
  double excess = 0.0;
  for (auto i = tail; i < drawn.size(); ++i) excess += drawn[i] - start;
  const double rate = static_cast<double>(drawn.size() - tail) / std::max(excess, 1e-12);
  const double share = static_cast<double>(drawn.size() - tail) / count;
  return std::min(share * std::exp(-rate * (seen - start)), std::exp(-seen));
}

/// Healthy, faulty and unknown alternatives in the whitened coordinates of what is observed.
struct mixtures {
  const fault_likelihood_input& in;
  Eigen::LLT<Eigen::MatrixXd> factor;
  whitened healthy, faulty;
  Eigen::LLT<Eigen::MatrixXd> broad;  ///< of the whitened covariance under an unknown fault
  double log_volume = 0.0;            ///< ln determinant of its root

  explicit mixtures(const fault_likelihood_input& given) : in(given) {
    const auto& o = in.observed.observation;
    factor.compute(o * in.model.covariance * o.transpose() + in.observed.noise);
    base::expect(factor.info() == Eigen::Success, "covariance", 0.0, "a positive definite matrix");
    healthy = whiten(in.model.healthy, o, factor, in.model.wider_probability);
    faulty = whiten(in.model.faulty, o, factor, in.model.wider_probability);
    if (in.model.unknown_share <= 0.0) return;
    const Eigen::MatrixXd root = factor.matrixL().solve(o);
    broad.compute(Eigen::MatrixXd::Identity(o.rows(), o.rows()) + root * in.model.unknown * root.transpose());
    log_volume = Eigen::MatrixXd(broad.matrixL()).diagonal().array().log().sum();
  }

  Eigen::MatrixXd whitened_values() const { return factor.matrixL().solve(in.observed.values).transpose(); }

  Eigen::ArrayXd log_unknown(const Eigen::MatrixXd& points) const {
    whitened about = healthy;
    about.means = broad.matrixL().solve(healthy.means.transpose()).transpose();
    about.squares = about.means.rowwise().squaredNorm();
    return about.log_density(broad.matrixL().solve(points.transpose()).transpose()).array() - log_volume;
  }

  /// ln of the density under all faults over that under health, one a point.
  Eigen::ArrayXd log_ratio(const Eigen::MatrixXd& points) const {
    const Eigen::ArrayXd base = healthy.log_density(points);
    const auto ratio = [&](const Eigen::ArrayXd& log_density) { return (log_density - base).min(600.0).exp(); };
    const double unknown = faulty.means.rows() > 0 ? in.model.unknown_share : 1.0;
    Eigen::ArrayXd sum = Eigen::ArrayXd::Zero(points.rows());
    if (unknown < 1.0) sum += (1.0 - unknown) * ratio(faulty.log_density(points).array());
    if (in.model.unknown_share > 0.0) sum += unknown * ratio(log_unknown(points));
    return sum.max(1e-300).log();
  }

  /// ln of each cause's density over health at one point: the parts of its alternatives, over their share of all.
  std::vector<double> log_evidence(const Eigen::MatrixXd& point) const {
    constexpr double nothing = -std::numeric_limits<double>::infinity();
    std::vector<double> part(in.model.causes, nothing), share(in.model.causes, nothing);
    const Eigen::ArrayXXd parts = faulty.log_parts(point);
    for (std::size_t i = 0; i < in.model.faulty.size(); ++i) {
      const auto cause = in.model.faulty[i].cause;
      const auto at = static_cast<Eigen::Index>(i);
      part[cause] = log_sum(part[cause], parts(0, at));
      share[cause] = log_sum(share[cause], faulty.log_weight[at]);
    }
    const double base = healthy.log_density(point)[0];
    for (std::size_t cause = 0; cause < part.size(); ++cause)
      if (share[cause] > nothing) part[cause] -= share[cause] + base;
    return part;
  }
};

/// How rarely a healthy machine's ratio is as large as the one seen. Where `enough` of those drawn are, it is their number
/// over how many were drawn until then; their share of all draws is never below that bound, and small shares are not touched.
///
/// Source: J. Besag, P. Clifford, Biometrika 78 (1991) 301-304 (sequential Monte Carlo p-values); from memory, unverified.
inline double healthy_share_above(const mixtures& all, double seen, std::size_t draws, std::size_t enough) {
  constexpr std::size_t at_a_time = 20;
  healthy_draws random(all.healthy);
  std::vector<double> drawn;
  std::size_t above = 0;
  while (drawn.size() < draws) {
    const Eigen::ArrayXd ratios = all.log_ratio(random.next(std::min(at_a_time, draws - drawn.size())));
    for (const double ratio : ratios) {
      drawn.push_back(ratio);
      if (ratio >= seen && ++above == enough) return static_cast<double>(above) / static_cast<double>(drawn.size());
    }
  }
  return tail_share(std::move(drawn), seen);
}

}  // namespace detail

/// Weighs a machine's deviations under healthy and faulty alternatives: how much more probable each cause makes them,
/// and how rarely a healthy machine looks as faulty.
///
/// The p-value is that of the likelihood ratio of all faults over health, found by drawing healthy machines.
///
/// @throws base::error (precondition) for sizes that do not agree, values that are not finite, an empty list of healthy
///         designs, or a covariance that is not positive definite
/// Source: J. Neyman, E. S. Pearson, Phil. Trans. R. Soc. A 231 (1933) 289-337 (ratio of likelihoods); mixtures over
/// designs and severities as in any Bayesian comparison of hypotheses.
inline fault_likelihood_result fault_likelihood(const fault_likelihood_input& in) {
  detail::expect_agreeing(in.observed, in.model);
  const auto& model = in.model;
  const detail::mixtures all(in);
  fault_likelihood_result out;
  out.log_evidence = all.log_evidence(all.whitened_values());
  if (model.faulty.empty() && model.unknown_share <= 0.0) return out;
  out.log_ratio = all.log_ratio(all.whitened_values())[0];
  if (in.draws == 0) return out;
  out.p_value = detail::healthy_share_above(all, out.log_ratio, in.draws, in.enough);
  return out;
}

}  // namespace rewound::checks
