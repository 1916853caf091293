// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <utility>
#include <vector>

#include <Eigen/Core>

// The curve of a heat run, rise = level - amplitude ((1 - share) exp(-t / slow) + share exp(-t / fast)), weighed over a
// grid of its two time constants and of the fast part's share. Plain doubles: kelvins and seconds, time counted from
// the first reading.
namespace rewound::checks::detail {

struct heat_points {
  Eigen::VectorXd times;
  Eigen::VectorXd rises;
  Eigen::VectorXd weights;  ///< 1 / u^2
  bool absolute = false;    ///< u holds whatever the readings' scatter
};

/// What is believed of a machine's two bodies before it is run.
struct heat_prior {
  double log_median;  ///< of the slow time constant
  double log_spread;
  double fast_from_s;  ///< the fast one lies anywhere from here
  double fast_to_s;    ///< to here, and at most at a quarter of the slow one
  double share_most;   ///< of the amplitude, in the fast part: anything from nothing to this
  double lowest() const { return log_median - 4.0 * log_spread; }
  double highest() const { return log_median + 4.0 * log_spread; }
};

/// The best level and amplitude for given time constants and share, and their covariance for readings as good as
/// stated.
struct heat_fit {
  double log_slow = 0.0;
  double place = 0.0;  ///< of the fast time constant's logarithm in the range that it has beside this slow one, 0 to 1
  double log_fast = 0.0;
  double share = 0.0;
  double level = 0.0;
  double amplitude = 0.0;
  double level_variance = 0.0;
  double amplitude_variance = 0.0;
  double mean_left = 0.0;  ///< of the readings: level and amplitude have the covariance mean_left amplitude_variance
  double chi2 = std::numeric_limits<double>::infinity();

  double left(double time) const {
    return (1.0 - share) * std::exp(-time / std::exp(log_slow)) +
           (share > 0.0 ? share * std::exp(-time / std::exp(log_fast)) : 0.0);
  }
  double at(double time) const { return level - amplitude * left(time); }
  /// Derivatives of the rise at `time` by level, amplitude, ln slow, ln fast and share.
  std::array<double, 5> slopes(double time) const {
    const double slow = time / std::exp(log_slow);
    const double fast = time / std::exp(log_fast);
    return {1.0, -left(time), -amplitude * (1.0 - share) * slow * std::exp(-slow),
            -amplitude * share * fast * std::exp(-fast), amplitude * (std::exp(-slow) - std::exp(-fast))};
  }
};

/// A decay at the times of the readings, less its weighted mean, and its products with itself and with the rises.
struct heat_decay {
  double mean;
  Eigen::VectorXd off;
  Eigen::VectorXd weighed;
  double square;
  double by_rise;
};

/// Sums that all fits to the same readings share.
class heat_sums {
 public:
  explicit heat_sums(const heat_points& in)
      : points_(&in), total_(in.weights.sum()), mean_rise_(in.weights.dot(in.rises) / total_) {
    off_rises_ = in.rises;
    square_ = 0.0;
    for (Eigen::Index i = 0; i < off_rises_.size(); ++i) {
      off_rises_[i] -= mean_rise_;
      square_ += in.weights[i] * off_rises_[i] * off_rises_[i];
    }
  }

  heat_decay decay(double log_tau) const {
    heat_decay out;
    const double rate = 1.0 / std::exp(log_tau);
    out.off = points_->times;
    for (double& each : out.off) each = std::exp(-each * rate);
    out.mean = points_->weights.dot(out.off) / total_;
    out.weighed = points_->weights;
    for (Eigen::Index i = 0; i < out.off.size(); ++i) {
      out.off[i] -= out.mean;
      out.weighed[i] *= out.off[i];
    }
    out.square = out.off.dot(out.weighed);
    out.by_rise = out.weighed.dot(off_rises_);
    return out;
  }

  /// @param both  the product of the two decays
  void fit(const heat_decay& slow, const heat_decay& fast, double both, heat_fit& out) const {
    const double s = 1.0 - out.share, f = out.share;
    const double square = s * s * slow.square + 2.0 * s * f * both + f * f * fast.square;
    const double mean = s * slow.mean + f * fast.mean;
    out.amplitude = -(s * slow.by_rise + f * fast.by_rise) / square;
    out.amplitude_variance = 1.0 / square;
    out.mean_left = mean;
    out.level = mean_rise_ + out.amplitude * mean;
    out.level_variance = 1.0 / total_ + mean * mean / square;
    out.chi2 = std::max(0.0, square_ - out.amplitude * out.amplitude * square);
  }

 private:
  const heat_points* points_;
  double total_;
  double mean_rise_;
  Eigen::VectorXd off_rises_;
  double square_;
};

/// A range of one unknown, and into how many steps it is cut.
struct heat_range {
  double low;
  double high;
  int steps;
  double step() const { return steps > 0 ? (high - low) / steps : 0.0; }
  double at(int i) const { return low + step() * i; }
};

/// Logarithm of the slow time constant, place of the fast one, share.
using heat_box = std::array<heat_range, 3>;

struct heat_grid {
  std::vector<heat_fit> fits;   ///< those of some weight
  std::vector<double> weights;  ///< their sum is 1
  heat_fit best;                ///< lowest chi2
  double scale = 1.0;
  bool usable() const { return !fits.empty(); }
};

/// Factor by which the readings scatter more than stated; the statement counts as four degrees of freedom.
inline double heat_scale(const heat_points& in, double chi2, double unknowns) {
  if (in.absolute) return 1.0;
  const double dof = std::max(0.0, static_cast<double>(in.times.size()) - unknowns);
  return std::sqrt(std::max(1.0, (4.0 + chi2) / (4.0 + dof)));
}

/// The fast part's time constants that may stand beside a slow one: none beside one that is itself fast.
inline std::pair<double, double> fast_range(const heat_prior& prior, double log_slow) {
  const double from = std::log(prior.fast_from_s);
  return {from, std::min(std::log(prior.fast_to_s), log_slow - std::log(4.0))};
}

/// Decays of the fast part, by the place of its time constant: beside many slow ones they are the same.
using fast_decays = std::vector<std::pair<double, heat_decay>>;

inline const heat_decay& decay_kept(const heat_sums& sums, double log_fast, std::size_t place, fast_decays& kept) {
  if (place == kept.size()) kept.emplace_back(log_fast, sums.decay(log_fast));
  else if (kept[place].first != log_fast) kept[place] = {log_fast, sums.decay(log_fast)};
  return kept[place].second;
}

inline void fit_beside(const heat_sums& sums, const heat_prior& prior, const heat_box& box, double log_slow,
                       fast_decays& kept, std::vector<heat_fit>& out) {
  const auto slow = sums.decay(log_slow);
  const auto [from, to] = fast_range(prior, log_slow);
  const bool room = to > from && prior.share_most > 0.0;
  heat_fit each;
  each.log_slow = log_slow;
  for (int k = 0; k <= box[1].steps; ++k) {
    each.place = box[1].at(k);
    each.log_fast = room ? from + each.place * (to - from) : log_slow - std::log(4.0);
    const auto& fast = decay_kept(sums, each.log_fast, static_cast<std::size_t>(k), kept);
    const double both = slow.weighed.dot(fast.off);
    for (int l = 0; l <= box[2].steps; ++l) {
      each.share = room ? box[2].at(l) : 0.0;
      sums.fit(slow, fast, both, each);
      if (std::isfinite(each.chi2) && std::isfinite(each.level_variance)) out.push_back(each);
    }
  }
}

inline double log_prior(const heat_fit& each, const heat_prior& prior) {
  const double off = (each.log_slow - prior.log_median) / prior.log_spread;
  return -0.5 * off * off;
}

/// Weights of the fits, those of next to none left out. With the level anywhere and the amplitude's logarithm anywhere,
/// what is left after both are averaged out is the likelihood at their best values: the factor beside it,
/// 1 / (1 + explained chi-squared), hardly differs from one fit that matters to the next.
inline heat_grid weighed(const heat_points& in, const heat_prior& prior, const std::vector<heat_fit>& fits,
                         double unknowns, double blur = 1.0) {
  constexpr double next_to_none = 1e-5;
  heat_grid out;
  for (const auto& each : fits)
    if (each.chi2 < out.best.chi2) out.best = each;
  if (fits.empty()) return out;
  out.scale = heat_scale(in, out.best.chi2, unknowns) * blur;
  const auto log_weight = [&](const heat_fit& each) {
    return log_prior(each, prior) - 0.5 * each.chi2 / (out.scale * out.scale);
  };
  double top = -std::numeric_limits<double>::infinity();
  for (const auto& each : fits) top = std::max(top, log_weight(each));
  double sum = 0.0;
  for (const auto& each : fits) {
    const double weight = std::exp(log_weight(each) - top);
    if (weight < next_to_none) continue;
    out.fits.push_back(each);
    out.weights.push_back(weight);
    sum += weight;
  }
  for (auto& weight : out.weights) weight /= sum;
  return out;
}

inline heat_grid grid_over(const heat_points& in, const heat_sums& sums, const heat_prior& prior, const heat_box& box,
                           double unknowns, double blur = 1.0) {
  std::vector<heat_fit> fits;
  fits.reserve(static_cast<std::size_t>((box[0].steps + 1) * (box[1].steps + 1) * (box[2].steps + 1)));
  fast_decays kept;
  for (int i = 0; i <= box[0].steps; ++i) fit_beside(sums, prior, box, box[0].at(i), kept, fits);
  return weighed(in, prior, fits, unknowns, blur);
}

/// Where the weight lies in each direction, one step wider on either side, within the box before.
inline heat_box narrowed(const heat_grid& grid, const heat_box& before) {
  heat_box out = before;
  const std::array<double heat_fit::*, 3> members{&heat_fit::log_slow, &heat_fit::place, &heat_fit::share};
  for (std::size_t j = 0; j < members.size(); ++j) {
    double low = std::numeric_limits<double>::infinity();
    double high = -low;
    for (const auto& each : grid.fits) {
      low = std::min(low, each.*members[j]);
      high = std::max(high, each.*members[j]);
    }
    out[j].low = std::max(before[j].low, low - before[j].step());
    out[j].high = std::min(before[j].high, high + before[j].step());
  }
  return out;
}

inline bool much_smaller(const heat_box& now, const heat_box& before) {
  double volume = 1.0;
  for (std::size_t j = 0; j < now.size(); ++j)
    if (before[j].high > before[j].low) volume *= (now[j].high - now[j].low) / (before[j].high - before[j].low);
  return volume < 0.5;
}

/// Coarse grids, narrowed to where the weight lies, then a fine one: on a coarse grid neighbours would lie further
/// apart than either is wide. While it is coarse the readings count for less than they are worth, so that a ridge which
/// runs between its points is not cut off.
inline heat_grid searched(const heat_points& in, const heat_prior& prior, heat_box box, int fine, double unknowns) {
  const heat_sums sums(in);
  constexpr int rounds = 10;
  double blur = 10.0;
  for (int round = 0; round < rounds; ++round) {
    auto found = grid_over(in, sums, prior, box, unknowns, blur);
    if (!found.usable()) return found;
    const auto smaller = narrowed(found, box);
    const bool done = blur == 1.0 && !much_smaller(smaller, box);
    box = smaller;
    if (done) break;
    blur = std::max(1.0, 0.5 * blur);
  }
  box[0].steps = fine;
  return grid_over(in, sums, prior, box, unknowns);
}

/// One body: the share is nothing.
inline heat_grid one_body(const heat_points& in, const heat_prior& prior) {
  return searched(in, prior, {{{prior.lowest(), prior.highest(), 48}, {0.0, 0.0, 0}, {0.0, 0.0, 0}}}, 144, 3.0);
}

/// Two bodies, the share anything from nothing on.
inline heat_grid two_bodies(const heat_points& in, const heat_prior& prior, double unknowns) {
  return searched(in, prior, {{{prior.lowest(), prior.highest(), 32}, {0.0, 1.0, 6}, {0.0, prior.share_most, 10}}}, 64,
                  unknowns);
}

}  // namespace rewound::checks::detail
