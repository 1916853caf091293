// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <cstdint>
#include <limits>
#include <memory>
#include <mutex>
#include <numbers>
#include <vector>

#include <Eigen/Core>

#include <boost/random/mersenne_twister.hpp>
#include <boost/random/normal_distribution.hpp>
#include <boost/random/uniform_01.hpp>

#include <rewound/base/compiled.hpp>
#include <rewound/base/expect.hpp>
#include <rewound/checks/detail/fault_model.hpp>
#include <rewound/checks/detail/whitened.hpp>
#include <rewound/checks/fault_likelihood.hpp>
#include <rewound/fit/dense.hpp>

namespace rewound::checks {

namespace detail {

/// The random numbers behind drawn machines of so many values, one machine a column: which design it is of, whether it
/// spreads wider, and its deviations. They are the same for every record: one record gives one judgement.
inline Eigen::MatrixXd drawn_numbers(Eigen::Index dimensions, std::size_t count) {
  constexpr std::uint32_t seed = 20260514;
  boost::random::mt19937 random{seed};
  boost::random::normal_distribution<double> normal;
  boost::random::uniform_01<double> uniform;
  Eigen::MatrixXd out(2 + dimensions, static_cast<Eigen::Index>(count));
  for (Eigen::Index i = 0; i < out.cols(); ++i) {
    out(0, i) = uniform(random);
    out(1, i) = uniform(random);
    for (Eigen::Index j = 0; j < dimensions; ++j) out(2 + j, i) = normal(random);
  }
  return out;
}

/// The same, kept for the usual number of draws and of values: half a megabyte at most in all.
inline std::shared_ptr<const Eigen::MatrixXd> kept_numbers(Eigen::Index dimensions, std::size_t count) {
  constexpr std::size_t most_draws = 600, most_kept = 4;
  static std::mutex one_at_a_time;
  static std::vector<std::shared_ptr<const Eigen::MatrixXd>> kept;
  if (count > most_draws) return std::make_shared<const Eigen::MatrixXd>(drawn_numbers(dimensions, count));
  const std::lock_guard lock(one_at_a_time);
  const auto found =
      std::find_if(kept.begin(), kept.end(), [&](const auto& each) { return each->rows() == 2 + dimensions; });
  if (found != kept.end()) return *found;
  if (kept.size() == most_kept) kept.erase(kept.begin());
  kept.push_back(std::make_shared<const Eigen::MatrixXd>(drawn_numbers(dimensions, most_draws)));
  return kept.back();
}

/// Points drawn from the healthy mixture.
class healthy_draws {
 public:
  healthy_draws(const whitened& healthy, std::size_t most)
      : healthy_(healthy), numbers_(kept_numbers(healthy.dimensions(), most)) {}

  /// The next points, one a column.
  Eigen::MatrixXd next(std::size_t count) {
    Eigen::MatrixXd out(healthy_.dimensions(), static_cast<Eigen::Index>(count));
    for (Eigen::Index i = 0; i < out.cols(); ++i, ++drawn_) {
      const double spread = (*numbers_)(1, drawn_) < healthy_.wider_probability() ? wider_spread : 1.0;
      const auto which = std::min(index_of_share(healthy_.weight(), (*numbers_)(0, drawn_)), healthy_.size() - 1);
      for (Eigen::Index j = 0; j < out.rows(); ++j)
        out(j, i) = spread * (*numbers_)(2 + j, drawn_) + healthy_.mean(which, static_cast<std::size_t>(j));
    }
    return out;
  }

 private:
  const whitened& healthy_;
  std::shared_ptr<const Eigen::MatrixXd> numbers_;
  Eigen::Index drawn_ = 0;
};

/// 0 at and below `from`, 1 at and above `to`, smooth between.
inline double blend(double value, double from, double to) {
  const double share = std::clamp((value - from) / (to - from), 0.0, 1.0);
  return share * share * (3.0 - 2.0 * share);
}

/// Share of the drawn ratios above `seen`, each spread a little so that the share moves smoothly with what is seen.
inline double smooth_share(const std::vector<double>& drawn, double seen) {
  constexpr double width = 0.05;  // of ln ratio, far below what decides anything (project's choice)
  double sum = 0.0;
  for (const double ratio : drawn) sum += 0.5 * std::erfc((seen - ratio) / (width * std::numbers::sqrt2));
  return sum / static_cast<double>(drawn.size());
}

/// Share of healthy machines whose ratio is above `seen`. Beyond the highest tenth of the drawn ones the tail is taken
/// to fall exponentially, as the drawn ones do: slower than 1 / ratio where the faults lie far from health. That bound
/// holds for the share itself (A. Markov's inequality).
inline double tail_share(std::vector<double> drawn, double seen) {
  std::sort(drawn.begin(), drawn.end());
  const auto tail = drawn.size() - std::max<std::size_t>(1, drawn.size() / 10);
  const double start = drawn[tail];
  const double inside = smooth_share(drawn, seen);
  double excess = 0.0;
  for (auto i = tail; i < drawn.size(); ++i) excess += drawn[i] - start;
  const double rate = static_cast<double>(drawn.size() - tail) / std::max(excess, 1e-12);
  const double share = static_cast<double>(drawn.size() - tail) / static_cast<double>(drawn.size());
  // Only here is the bound needed; below it the drawn ones tell enough.
  const double log_beyond = std::min(std::log(share) - rate * (seen - start), -seen);
  const double beyond = blend(seen, start, start + 1.0 / rate);
  const double log_inside = std::log(std::max(inside, 1e-300));
  return std::min(1.0, std::exp((1.0 - beyond) * log_inside + beyond * log_beyond));
}

/// Healthy, faulty and unknown alternatives in the whitened coordinates of what is observed.
struct mixtures {
  const fault_likelihood_input& in;
  fit::cholesky_factor factor;
  Eigen::MatrixXd seen_map;  ///< from deviations to the whitened coordinates
  whitened healthy, faulty;
  whitened broad_healthy;      ///< in coordinates whitened under an unknown fault
  fit::cholesky_factor broad;  ///< of the whitened covariance under an unknown fault
  double log_volume = 0.0;     ///< ln determinant of its root

  explicit mixtures(const fault_likelihood_input& given) : in(given) {
    const auto& o = in.observed.observation;
    factor = fit::cholesky_factor(fit::carried(o, in.model.covariance) + in.observed.noise);
    base::expect(factor.is_positive_definite(), "covariance", 0.0, "a positive definite matrix");
    seen_map = whitening(o, factor);
    const auto& map = seen_map;
    healthy = whitened(in.model.healthy, map, in.model.wider_probability);
    faulty = whitened(in.model.faulty, map, in.model.wider_probability);
    if (in.model.unknown_share <= 0.0) return;
    Eigen::MatrixXd wider = fit::carried(map, in.model.unknown);
    for (Eigen::Index i = 0; i < wider.rows(); ++i) wider(i, i) += 1.0;
    broad = fit::cholesky_factor(std::move(wider));
    base::expect(broad.is_positive_definite(), "unknown", 0.0, "a covariance");
    log_volume = broad.log_determinant_of_root();
    broad_healthy = whitened(in.model.healthy, broad.whitened_columns(map), in.model.wider_probability);
  }

  Eigen::VectorXd whitened_values() const { return factor.whitened(in.observed.values); }

  /// ln of the density under all faults over that under health, one a column of `points`.
  std::vector<double> log_ratio(const Eigen::MatrixXd& points) const {
    constexpr double most = 600.0;  // of a logarithm
    const std::vector<double> base = healthy.log_density(points);
    const double unknown = faulty.size() > 0 ? in.model.unknown_share : 1.0;
    std::vector<double> sum(base.size(), 0.0);
    // What is no number stays none: the smaller of it and another is it where it stands first.
    const auto add = [&](double share, const std::vector<double>& log_density, double less) {
      for (std::size_t i = 0; i < sum.size(); ++i)
        sum[i] += share * std::exp(std::min(log_density[i] - less - base[i], most));
    };
    if (unknown < 1.0) add(1.0 - unknown, faulty.log_density(points), 0.0);
    if (in.model.unknown_share > 0.0)
      add(unknown, broad_healthy.log_density(broad.whitened_columns(points)), log_volume);
    for (double& each : sum) each = std::log(std::max(each, 1e-300));
    return sum;
  }

  /// ln of the density under an unknown fault over that under health at one point.
  double log_unknown(const Eigen::VectorXd& point) const {
    const Eigen::VectorXd broadly = broad.whitened(point);
    return broad_healthy.log_density(broadly)[0] - log_volume - healthy.log_density(point)[0];
  }

  /// ln of each cause's density over health at one point: the parts of its alternatives, over their share of all. Each
  /// counts with all its scatter, so that a cause that fits closely gains as much as it would have lost.
  std::vector<double> log_evidence(const Eigen::VectorXd& point) const {
    constexpr double nothing = -std::numeric_limits<double>::infinity();
    std::vector<double> out(in.model.causes, nothing), share(in.model.causes, 0.0);
    const double base = healthy.log_density(point)[0];
    for (const auto& each : in.model.faulty) {
      const double part =
          std::log(each.weight) + log_density_of(each, seen_map, point, in.model.wider_probability) - base;
      const double most = std::max(out[each.cause], part), least = std::min(out[each.cause], part);
      out[each.cause] = most + std::log1p(std::exp(least - most));
      share[each.cause] += each.weight;
    }
    for (std::size_t cause = 0; cause < out.size(); ++cause)
      if (share[cause] > 0.0) out[cause] -= std::log(share[cause]);
    return out;
  }
};

/// How rarely a healthy machine's ratio is as large as the one seen. Where the first few drawn machines already show
/// that it is no rarity, the others are not drawn; between, both shares count, so that the answer has no step.
inline double healthy_share_above(const mixtures& all, double seen, std::size_t draws, std::size_t first) {
  constexpr double no_rarity = 0.25, surely_none = 0.35;
  healthy_draws random(all.healthy, draws);
  std::vector<double> drawn;
  const auto draw = [&](std::size_t count) {
    const std::vector<double> ratios = all.log_ratio(random.next(count));
    drawn.insert(drawn.end(), ratios.begin(), ratios.end());
  };
  if (first == 0 || first >= draws) {
    draw(draws);
    return tail_share(std::move(drawn), seen);
  }
  draw(first);
  const double quick = smooth_share(drawn, seen);
  const double enough = blend(quick, no_rarity, surely_none);
  if (enough >= 1.0) return quick;
  draw(draws - first);
  return enough * quick + (1.0 - enough) * tail_share(std::move(drawn), seen);
}

}  // namespace detail

REWOUND_INLINE fault_likelihood_result fault_likelihood(const fault_likelihood_input& in) {
  detail::expect_agreeing(in.observed, in.model);
  const auto& model = in.model;
  const detail::mixtures all(in);
  fault_likelihood_result out;
  const Eigen::VectorXd seen = all.whitened_values();
  out.log_evidence = all.log_evidence(seen);
  if (model.unknown_share > 0.0) out.log_unknown = all.log_unknown(seen);
  if (model.faulty.empty() && model.unknown_share <= 0.0) return out;
  out.log_ratio = all.log_ratio(seen)[0];
  if (in.draws == 0) return out;
  out.p_value = detail::healthy_share_above(all, out.log_ratio, in.draws, in.first);
  return out;
}

}  // namespace rewound::checks
