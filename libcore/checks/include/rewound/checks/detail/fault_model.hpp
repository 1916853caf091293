// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <atomic>
#include <cmath>
#include <cstddef>
#include <initializer_list>
#include <memory>
#include <mutex>
#include <utility>
#include <vector>

#include <Eigen/Core>

#include <rewound/base/lanes.hpp>
#include <rewound/base/expect.hpp>
#include <rewound/checks/detail/laned_numbers.hpp>

namespace rewound::checks {

/// One way a machine may be: what its deviations are on average, and what it is worth.
struct alternative {
  std::size_t cause = 0;  ///< index of the cause it belongs to; of no meaning among healthy ones
  double weight = 1.0;    ///< prior share, above 0; shares need not sum to 1 over a list
  Eigen::VectorXd mean;
  std::size_t design = 0;  ///< index of the design it was worked out from
  /// How machines stray from the mean, in columns whose squares sum to the covariance, the widest first; empty: not.
  Eigen::MatrixXd scatter = {};
};

/// An alternative as points that have its mean and its scatter along the widest direction: three, with the normal
/// distribution's first moments.
inline std::vector<alternative> in_points(const alternative& in) {
  alternative point{in.cause, in.weight, in.mean, in.design};
  if (in.scatter.cols() == 0) return {std::move(point)};
  std::vector<alternative> out(3, point);
  out[0].weight *= 2.0 / 3.0;
  out[1].weight /= 6.0, out[2].weight /= 6.0;
  for (Eigen::Index i = 0; i < in.mean.size(); ++i) {
    const double away = std::sqrt(3.0) * in.scatter(i, 0);
    out[1].mean[i] += away;
    out[2].mean[i] -= away;
  }
  return out;
}

namespace detail {

/// The points of a list's alternatives side by side, and their weights, which are normalised.
struct laned_alternatives {
  laned_numbers means;
  std::vector<double> weight;  ///< filled up with zeros to whole registers
};

inline laned_alternatives in_lanes(const std::vector<alternative>& alternatives) {
  laned_alternatives out;
  std::vector<alternative> list;
  for (const auto& each : alternatives)
    for (auto& point : in_points(each)) list.push_back(std::move(point));
  const auto size = list.empty() ? 0 : static_cast<std::size_t>(list.front().mean.size());
  out.means = laned_numbers(base::widest_lanes(), list.size(), size);
  out.weight.resize(out.means.groups() * static_cast<std::size_t>(out.means.width));
  double total = 0.0;
  for (const auto& each : list) total += each.weight;
  for (std::size_t i = 0; i < list.size(); ++i) {
    out.weight[i] = list[i].weight / total;
    for (std::size_t k = 0; k < size; ++k) out.means.at(i, k) = list[i].mean[static_cast<Eigen::Index>(k)];
  }
  return out;
}

}  // namespace detail

/// Alternatives that copies share until one of them is changed: they are worked out once for many machines of a model,
/// and laid out once for the sums over them.
class alternative_list {
 public:
  alternative_list() = default;
  alternative_list(std::initializer_list<alternative> in) : held_(std::make_shared<held>(in)) {}
  alternative_list(std::vector<alternative> in) : held_(std::make_shared<held>(std::move(in))) {}

  std::size_t size() const { return held_->list.size(); }
  bool empty() const { return held_->list.empty(); }
  const alternative& operator[](std::size_t i) const { return held_->list[i]; }
  auto begin() const { return std::as_const(held_->list).begin(); }
  auto end() const { return std::as_const(held_->list).end(); }

  void push_back(alternative in) { own().push_back(std::move(in)); }
  void clear() { own().clear(); }
  alternative& operator[](std::size_t i) { return own()[i]; }
  auto begin() { return own().begin(); }
  auto end() { return own().end(); }

  /// For alternatives whose means have one size. May be asked for by several threads; a reference to an alternative
  /// that was taken to change it is not to be used afterwards.
  const detail::laned_alternatives& lanes() const {
    std::call_once(held_->once, [&] {
      held_->lanes = detail::in_lanes(held_->list);
      held_->is_laid_out = true;
    });
    return held_->lanes;
  }

 private:
  struct held {
    explicit held(std::vector<alternative> in) : list(std::move(in)) {}
    std::vector<alternative> list;
    std::once_flag once;
    std::atomic<bool> is_laid_out = false;
    detail::laned_alternatives lanes;
  };

  /// Never what is shared or was laid out: what is changed there would not be seen.
  std::vector<alternative>& own() {
    if (held_->is_laid_out || held_.use_count() > 1) held_ = std::make_shared<held>(held_->list);
    return held_->list;
  }

  std::shared_ptr<held> held_ = std::make_shared<held>(std::vector<alternative>{});
};

/// What was read of a machine: values = observation times deviations + noise.
struct observed_deviations {
  Eigen::MatrixXd observation;  ///< one row a value, one column a deviation
  Eigen::VectorXd values;
  Eigen::MatrixXd noise;  ///< covariance of what the readings themselves are uncertain by
};

/// What healthy and faulty machines deviate by from what is expected, all in the same coefficients.
struct fault_model {
  Eigen::MatrixXd covariance;  ///< of a machine about its alternative
  double wider_probability =
      0.0;                   ///< that machines of this model spread wider than the covariance says: by wider_spread
  alternative_list healthy;  ///< designs it may be of; one of mean 0 beside good machines
  alternative_list faulty;
  Eigen::MatrixXd unknown;     ///< covariance that a fault outside the list adds; empty: none is weighed
  double unknown_share = 0.0;  ///< of such a fault among all faults, at least 0 and below 1
  std::size_t causes = 0;      ///< number of causes
};

/// By how much wider than stated machines of a model may spread, as a factor of the standard deviation (common
/// practice, no source). It is never taken to be narrower: a machine near the mean in most coordinates says nothing of
/// the others.
inline constexpr double wider_spread = 1.6;

namespace detail {

/// Height of the wide normal density's peak over the narrow one's, shares included.
inline double wide_share(double wider_probability, double dimensions) {
  return wider_probability / (1.0 - wider_probability) * std::pow(wider_spread, -dimensions);
}

/// ln density of a squared distance in whitened coordinates, up to the constant of its dimension.
inline double log_kernel(double square, double dimensions, double wider_probability) {
  if (wider_probability <= 0.0) return -0.5 * square;
  const double ratio = wide_share(wider_probability, dimensions);
  const double gain = 0.5 * (1.0 - 1.0 / (wider_spread * wider_spread));
  // Beyond the cap the wider part is all there is, and its logarithm is taken directly.
  constexpr double cap = 600.0;
  const double exponent = gain * square;
  const double beyond = std::max(0.0, exponent - cap);
  return -0.5 * square + std::log(1.0 + ratio * std::exp(std::min(exponent, cap))) + beyond;
}

/// The index that a number from 0 to 1 falls on when shares that sum to 1 lie end to end.
template <class Shares>
auto index_of_share(const Shares& shares, double left) {
  decltype(shares.size()) index = 0;
  while (index + 1 < shares.size() && (left -= shares[index]) > 0.0) ++index;
  return index;
}

inline void expect_square(const Eigen::MatrixXd& matrix, Eigen::Index rows, const char* argument, const char* allowed) {
  base::expect(matrix.rows() == rows && matrix.cols() == rows, argument, static_cast<double>(matrix.rows()), allowed);
}

/// Throws unless what was observed and what it is weighed under have sizes that agree.
inline void expect_agreeing(const observed_deviations& seen, const fault_model& model) {
  const Eigen::Index n = seen.values.size();
  const Eigen::Index deviations = seen.observation.cols();
  base::expect(n > 0 && seen.observation.rows() == n, "observed", static_cast<double>(n),
               "at least one value, and as many rows of observation");
  base::expect(seen.values.allFinite(), "observed", "a value that is not finite", "finite values");
  expect_square(seen.noise, n, "noise", "as many rows and columns as there are values");
  expect_square(model.covariance, deviations, "covariance", "as many rows and columns as there are deviations");
  if (model.unknown_share > 0.0)
    expect_square(model.unknown, deviations, "unknown", "as many rows and columns as there are deviations");
  base::expect(!model.healthy.empty(), "healthy", 0.0, "at least one design");
  for (const auto* list : {&model.healthy, &model.faulty})
    for (const auto& each : *list)
      base::expect(each.mean.size() == deviations && (each.scatter.size() == 0 || each.scatter.rows() == deviations),
                   "mean", static_cast<double>(each.mean.size()), "one value a deviation");
  for (const auto& each : model.faulty)
    base::expect(each.cause < model.causes, "cause", static_cast<double>(each.cause), "an index of a cause");
}

}  // namespace detail

}  // namespace rewound::checks
