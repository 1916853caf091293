// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cmath>
#include <limits>
#include <vector>

#include <Eigen/Core>
#include <Eigen/LU>

#include <rewound/fit/linear.hpp>

// The curve of a heat run, rise = final - sum of a_j exp(-t / tau_j), weighed over a grid of its time constants.
// Plain doubles: kelvins and seconds, time counted from the first reading.
namespace rewound::checks::detail {

struct heat_points {
  Eigen::VectorXd times;
  Eigen::VectorXd rises;
  Eigen::VectorXd weights;  ///< 1 / u^2
};

struct heat_prior {
  double log_median;  ///< of the slowest time constant
  double log_spread;
  double lowest() const { return log_median - 4.0 * log_spread; }
  double highest() const { return log_median + 4.0 * log_spread; }
};

/// The fit for given time constants: parameters are the final rise, then minus a_j.
struct heat_fit {
  std::vector<double> log_taus;  ///< slowest first
  fit::linear_result found;
  double log_root_information =
      0.0;  ///< ln of the root of the time constants' information, final and a_j fitted with them

  bool usable() const { return found.usable() && std::isfinite(log_root_information); }
  double final_rise() const { return found.parameters[0]; }
  double at(double time) const {
    double out = found.parameters[0];
    for (std::size_t j = 0; j < log_taus.size(); ++j)
      out += found.parameters[static_cast<Eigen::Index>(j + 1)] * std::exp(-time / std::exp(log_taus[j]));
    return out;
  }
  /// Derivatives of the rise at `time` by the final rise, minus a_j and ln tau_j.
  Eigen::VectorXd slopes(double time) const {
    const auto parts = static_cast<Eigen::Index>(log_taus.size());
    Eigen::VectorXd out(1 + 2 * parts);
    out[0] = 1.0;
    for (Eigen::Index j = 0; j < parts; ++j) {
      const double x = time / std::exp(log_taus[static_cast<std::size_t>(j)]);
      out[1 + j] = std::exp(-x);
      out[1 + parts + j] = found.parameters[1 + j] * x * std::exp(-x);
    }
    return out;
  }
};

inline Eigen::MatrixXd heat_design(const Eigen::VectorXd& times, const std::vector<double>& log_taus) {
  Eigen::MatrixXd out = Eigen::MatrixXd::Ones(times.size(), static_cast<Eigen::Index>(1 + log_taus.size()));
  for (std::size_t j = 0; j < log_taus.size(); ++j)
    out.col(static_cast<Eigen::Index>(j + 1)) = (-times.array() / std::exp(log_taus[j])).exp();
  return out;
}

/// Jeffreys' rule for a curve that is linear in all but the time constants: the volumes of the linear parameters
/// cancel, and what is left is the information on the time constants after the linear ones are fitted. a_j^2 stands
/// with its own variance, so that a level run has no infinite weight.
inline double log_root_information(const heat_points& in, const fit::weighted_design& design, const heat_fit& fitted) {
  const auto parts = static_cast<Eigen::Index>(fitted.log_taus.size());
  Eigen::MatrixXd left(in.times.size(), parts);
  double log_amplitudes = 0.0;
  for (Eigen::Index j = 0; j < parts; ++j) {
    const double tau = std::exp(fitted.log_taus[static_cast<std::size_t>(j)]);
    const Eigen::VectorXd slope = (in.times.array() / tau) * (-in.times.array() / tau).exp();
    const auto rest = design.solve(slope);
    if (!rest.usable()) return -std::numeric_limits<double>::infinity();
    left.col(j) = rest.residuals.cwiseProduct(in.weights.cwiseSqrt());
    const double a = fitted.found.parameters[1 + j];
    log_amplitudes += 0.5 * std::log(a * a + fitted.found.covariance_unscaled(1 + j, 1 + j));
  }
  const Eigen::MatrixXd gram = left.transpose() * left;
  return 0.5 * std::log(gram.determinant()) + log_amplitudes;
}

/// @param all_falling  whether a fit with a part that rises is of no use
inline heat_fit fit_heat(const heat_points& in, std::vector<double> log_taus, bool all_falling) {
  const fit::weighted_design design(heat_design(in.times, log_taus), in.weights.cwiseSqrt());
  heat_fit out{std::move(log_taus), design.solve(in.rises), -std::numeric_limits<double>::infinity()};
  if (!out.found.usable()) return out;
  const auto parts = static_cast<Eigen::Index>(out.log_taus.size());
  if (all_falling && !(out.found.parameters.tail(parts).array() < 0.0).all()) return out;
  out.log_root_information = log_root_information(in, design, out);
  return out;
}

inline double log_weight(const heat_fit& fitted, const heat_prior& prior, double scale) {
  const double off = (fitted.log_taus.front() - prior.log_median) / prior.log_spread;
  return -0.5 * fitted.found.chi2 / (scale * scale) + fitted.log_root_information - 0.5 * off * off;
}

/// Factor by which the readings scatter more than stated; the statement counts as four degrees of freedom.
inline double heat_scale(const heat_points& in, double chi2, std::size_t parts) {
  const double dof = std::max(0.0, static_cast<double>(in.times.size()) - 1.0 - 2.0 * static_cast<double>(parts));
  return std::sqrt(std::max(1.0, (4.0 + chi2) / (4.0 + dof)));
}

struct heat_grid {
  std::vector<heat_fit> fits;   ///< those of some weight
  std::vector<double> weights;  ///< their sum is 1
  std::size_t best = 0;         ///< lowest chi2
  double scale = 1.0;
  bool usable() const { return !fits.empty(); }
};

inline double lowest_chi2(const std::vector<heat_fit>& fits) {
  double out = std::numeric_limits<double>::infinity();
  for (const auto& each : fits) out = std::min(out, each.found.chi2);
  return out;
}

/// Weights of the fits, those of next to none left out.
inline heat_grid weighed(const heat_points& in, const heat_prior& prior, std::vector<heat_fit> fits) {
  std::erase_if(fits, [](const heat_fit& each) { return !each.usable(); });
  heat_grid out;
  if (fits.empty()) return out;
  out.scale = heat_scale(in, lowest_chi2(fits), fits.front().log_taus.size());
  double top = -std::numeric_limits<double>::infinity();
  for (const auto& each : fits) top = std::max(top, log_weight(each, prior, out.scale));
  double sum = 0.0;
  for (auto& each : fits) {
    const double weight = std::exp(log_weight(each, prior, out.scale) - top);
    if (weight < 1e-7) continue;
    out.fits.push_back(std::move(each));
    out.weights.push_back(weight);
    sum += weight;
  }
  for (auto& weight : out.weights) weight /= sum;
  for (std::size_t i = 1; i < out.fits.size(); ++i)
    if (out.fits[i].found.chi2 < out.fits[out.best].found.chi2) out.best = i;
  return out;
}

/// Where the weight lies along time constant j, one step wider on either side.
inline std::pair<double, double> span_of(const heat_grid& grid, std::size_t j, double step) {
  double low = std::numeric_limits<double>::infinity();
  double high = -low;
  for (const auto& each : grid.fits) {
    low = std::min(low, each.log_taus[j]);
    high = std::max(high, each.log_taus[j]);
  }
  return {low - step, high + step};
}

inline heat_grid grid_over(const heat_points& in, const heat_prior& prior, std::pair<double, double> span, int steps) {
  const double step = (span.second - span.first) / steps;
  std::vector<heat_fit> fits;
  for (int i = 0; i <= steps; ++i) fits.push_back(fit_heat(in, {span.first + step * i}, false));
  return weighed(in, prior, std::move(fits));
}

/// One time constant: coarse grids over the prior's range, narrowed to where the weight lies, then a fine one. Where a
/// short run leaves the range wide, neighbours on a coarse grid would lie further apart than either is wide.
inline heat_grid one_part(const heat_points& in, const heat_prior& prior) {
  constexpr int coarse = 48;
  constexpr int fine = 144;
  std::pair<double, double> span{prior.lowest(), prior.highest()};
  for (int round = 0; round < 3; ++round) {
    const auto found = grid_over(in, prior, span, coarse);
    if (!found.usable()) return found;
    const double width = span.second - span.first;
    span = span_of(found, 0, width / coarse);
    if (span.second - span.first > 0.8 * width) break;
  }
  return grid_over(in, prior, span, fine);
}

/// A slow and a fast time constant, the fast one a quarter of the slow one or less, and both falling parts.
inline heat_grid two_parts(const heat_points& in, const heat_prior& prior) {
  constexpr int steps = 24;
  std::pair<double, double> slow{prior.lowest(), prior.highest()};
  const double nearest = std::log(0.2 * (in.times[1] - in.times[0]));
  std::pair<double, double> fast{std::min(nearest, slow.second - 1.0), slow.second};
  heat_grid out;
  for (int round = 0; round < 3; ++round) {
    const double slow_step = (slow.second - slow.first) / steps;
    const double fast_step = (fast.second - fast.first) / steps;
    std::vector<heat_fit> fits;
    for (int i = 0; i <= steps; ++i)
      for (int k = 0; k <= steps; ++k) {
        const double s = slow.first + slow_step * i;
        const double f = fast.first + fast_step * k;
        if (f > s - std::log(4.0)) continue;
        auto fitted = fit_heat(in, {s, f}, true);
        if (fitted.usable()) fits.push_back(std::move(fitted));
      }
    out = weighed(in, prior, std::move(fits));
    if (!out.usable()) return out;
    slow = span_of(out, 0, slow_step);
    fast = span_of(out, 1, fast_step);
  }
  return out;
}

}  // namespace rewound::checks::detail
