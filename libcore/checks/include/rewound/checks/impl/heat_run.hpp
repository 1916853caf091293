// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cmath>
#include <optional>
#include <string_view>
#include <utility>
#include <vector>

#include <Eigen/Core>

#include <rewound/base/compiled.hpp>
#include <rewound/base/expect.hpp>
#include <rewound/checks/detail/heat_curve.hpp>
#include <rewound/checks/heat_run.hpp>
#include <rewound/fit/dense.hpp>
#include <rewound/fit/linear.hpp>
#include <rewound/measurement/normal.hpp>
#include <rewound/measurement/uncertain.hpp>
#include <rewound/units/quantity.hpp>
#include <rewound/units/temperature.hpp>

namespace rewound::checks {

namespace detail {

inline constexpr double half_hour_s = 1800.0;

inline heat_points points_of(const heat_run_input& in) {
  const auto count = static_cast<Eigen::Index>(in.readings.size());
  heat_points out{Eigen::VectorXd(count), Eigen::VectorXd(count), Eigen::VectorXd(count), in.absolute};
  for (Eigen::Index i = 0; i < count; ++i) {
    const auto& reading = in.readings[static_cast<std::size_t>(i)];
    const double u = units::in_kelvins(reading.uncertainty);
    base::expect(u > 0.0, "uncertainty", u, "kelvins above 0");
    out.times[i] = units::in_seconds(reading.time - in.readings.front().time);
    out.rises[i] = units::in_kelvins(reading.rise);
    out.weights[i] = 1.0 / (u * u);
    if (i > 0) base::expect(out.times[i] > out.times[i - 1], "time", out.times[i], "times that rise");
  }
  return out;
}

/// Three standard uncertainties of the slope: a run that only scatters about a level is not called falling.
inline bool falls(const heat_points& in) {
  Eigen::MatrixXd line = Eigen::MatrixXd::Ones(in.times.size(), 2);
  for (Eigen::Index i = 0; i < in.times.size(); ++i) line(i, 1) = in.times[i];
  const auto found = fit::fit_linear(line, in.rises, in.weights);
  return found.usable() && found.parameters[1] < -3.0 * std::sqrt(found.covariance_unscaled(1, 1));
}

/// Nothing that was read lies further from the cold reading than its digits, or a machine that runs, allow.
inline bool stays(const heat_run_input& in) {
  if (!in.before) return false;
  for (const auto& reading : in.readings) {
    const double far = std::max(units::in_kelvins(in.moves_by), 3.0 * units::in_kelvins(reading.uncertainty));
    if (std::abs(units::in_kelvins(reading.rise - *in.before)) > far) return false;
  }
  return true;
}

inline heat_mixture mixture_of(const heat_grid& grid, double end_time, bool remainder) {
  heat_mixture out;
  for (std::size_t i = 0; i < grid.fits.size(); ++i) {
    const auto& each = grid.fits[i];
    const double left = each.left(end_time);
    const double value = remainder ? each.amplitude * left : each.level;
    const double variance = remainder ? left * left * each.amplitude_variance : each.level_variance;
    out.parts.push_back({value, grid.scale * std::sqrt(variance), grid.weights[i]});
  }
  return out;
}

inline std::vector<heat_curve> curves_of(const heat_grid& grid) {
  std::vector<heat_curve> out;
  const double square = grid.scale * grid.scale;
  for (std::size_t i = 0; i < grid.fits.size(); ++i) {
    const auto& each = grid.fits[i];
    out.push_back({grid.weights[i], std::exp(each.log_slow), std::exp(each.log_fast), each.share, each.level,
                   each.amplitude, square * each.level_variance, square * each.amplitude_variance, each.mean_left});
  }
  return out;
}

/// The slow time constant with half of the weight on either side.
inline double middle_log_slow(const heat_grid& grid) {
  std::vector<std::pair<double, double>> ordered;
  for (std::size_t i = 0; i < grid.fits.size(); ++i) ordered.emplace_back(grid.fits[i].log_slow, grid.weights[i]);
  std::sort(ordered.begin(), ordered.end());
  double sum = 0.0;
  for (const auto& [log_slow, weight] : ordered)
    if ((sum += weight) >= 0.5) return log_slow;
  return ordered.back().first;
}

inline std::optional<units::duration> steady_after(const heat_fit& best, double end_time, double within_K) {
  const double longest = 20.0 * std::exp(best.log_slow);
  const double earliest = std::max(0.0, half_hour_s - end_time);
  for (double more = earliest; more <= longest; more += 60.0)
    if (best.at(end_time + more) - best.at(end_time + more - half_hour_s) <= within_K) return units::seconds(more);
  return std::nullopt;
}

/// Readings go on at the usual distance; the linearised fit, with what is believed beforehand of time constants and
/// share, tells when the final rise is known.
inline std::optional<units::duration> known_after(const heat_points& in, const heat_grid& grid, const heat_prior& prior,
                                                  double within_K) {
  // An even distribution over a range is as wide as a normal one of the range over the root of 12.
  const auto [fast_from, fast_to] = fast_range(prior, grid.best.log_slow);
  const double fast = std::max(1e-3, (fast_to - fast_from)) / std::sqrt(12.0);
  const double share = std::max(1e-6, prior.share_most) / std::sqrt(12.0);
  Eigen::MatrixXd information = Eigen::MatrixXd::Zero(5, 5);
  information(2, 2) = 1.0 / (prior.log_spread * prior.log_spread);
  information(3, 3) = 1.0 / (fast * fast);
  information(4, 4) = 1.0 / (share * share);
  const auto add = [&](double time, double weight) {
    const auto by = grid.best.slopes(time);
    for (std::size_t k = 0; k < by.size(); ++k)
      for (std::size_t i = 0; i < by.size(); ++i)
        information(static_cast<Eigen::Index>(i), static_cast<Eigen::Index>(k)) +=
            weight / (grid.scale * grid.scale) * by[i] * by[k];
  };
  for (Eigen::Index i = 0; i < in.times.size(); ++i) add(in.times[i], in.weights[i]);
  const double end = in.times[in.times.size() - 1];
  const double apart = end / static_cast<double>(in.times.size() - 1);
  const double longest = 20.0 * std::exp(grid.best.log_slow);
  for (double more = apart; more <= longest; more += apart) {
    add(end + more, in.weights.mean());
    const fit::cholesky_factor factor(information);
    if (!factor.is_positive_definite()) continue;
    if (measurement::coverage_95 * std::sqrt(factor.inverse()(0, 0)) <= within_K) return units::seconds(more);
  }
  return std::nullopt;
}

inline heat_prior prior_of(const heat_run_input& in) {
  base::expect(in.time_constant_factor > 1.0, "time_constant_factor", in.time_constant_factor, "a number above 1");
  base::expect(in.usual_time_constant.value() > 0.0, "usual_time_constant", in.usual_time_constant.value(),
               "seconds above 0");
  base::expect(in.fast.share_most >= 0.0 && in.fast.share_most < 1.0, "share_most", in.fast.share_most,
               "a share from 0, below 1");
  heat_prior out{std::log(units::in_seconds(in.usual_time_constant)), std::log(in.time_constant_factor),
                 units::in_seconds(in.fast.shortest), units::in_seconds(in.fast.longest), in.fast.share_most};
  if (out.share_most > 0.0)
    base::expect(out.fast_from_s > 0.0 && out.fast_to_s > out.fast_from_s, "fast", out.fast_from_s,
                 "time constants above 0, the longest above the shortest");
  return out;
}

/// All that is weighed, and the best fit with one time constant where a second is not shown.
struct heat_choice {
  heat_grid all;
  heat_fit named;
  bool two = false;
};

inline heat_choice chosen(const heat_points& in, const heat_prior& prior, double certainty) {
  heat_choice out{one_body(in, prior), {}, false};
  out.named = out.all.best;
  if (!out.all.usable() || prior.share_most == 0.0) return out;
  // A second body cannot gain more than there is to explain.
  auto both = two_bodies(in, prior, 3.0);
  out.two = out.named.chi2 - both.best.chi2 > certainty;
  if (out.two) both = two_bodies(in, prior, 5.0);
  if (!both.usable()) return out;
  if (out.two) out.named = both.best;
  out.all = std::move(both);
  return out;
}

}  // namespace detail

REWOUND_INLINE heat_run_result heat_run(const heat_run_input& in) {
  heat_run_result out;
  const auto prior = detail::prior_of(in);
  const auto points = detail::points_of(in);
  if (in.readings.size() < 3) return out;
  if (detail::stays(in)) {
    out.status = heat_run_status::not_moving;
    return out;
  }
  if (detail::falls(points)) {
    out.status = heat_run_status::not_heating;
    return out;
  }
  const auto found = detail::chosen(points, prior, in.two_parts_certainty);
  if (!found.all.usable()) return out;
  const auto& best = found.named;
  const double end = points.times[points.times.size() - 1];
  out.status = heat_run_status::projected;
  out.final_rise = detail::mixture_of(found.all, end, false);
  out.remainder = detail::mixture_of(found.all, end, true);
  out.first = in.readings.front().time;
  out.curves = detail::curves_of(found.all);
  out.time_constants.push_back(units::seconds(std::exp(best.log_slow)));
  if (found.two) out.time_constants.push_back(units::seconds(std::exp(best.log_fast)));
  out.slow_time_constant = units::seconds(std::exp(detail::middle_log_slow(found.all)));
  out.length = in.readings.back().time;
  out.readings = in.readings.size();
  out.at_end = units::kelvins(best.at(end));
  out.chi2 = best.chi2;
  out.scale = found.all.scale;
  for (const double time : points.times) out.at_readings.push_back(units::kelvins(best.at(time)));
  out.change_in_30_min = units::kelvins(best.at(end) - best.at(std::max(0.0, end - detail::half_hour_s)));
  out.steady_after = detail::steady_after(best, end, units::in_kelvins(in.steady_within));
  const double within = units::in_kelvins(in.known_within);
  const double half = 0.5 * (out.final_rise.quantile(0.975) - out.final_rise.quantile(0.025));
  out.known_after = half <= within ? units::seconds(0.0) : detail::known_after(points, found.all, prior, within);
  return out;
}

REWOUND_INLINE heat_mixture rise_at(const heat_run_result& run, units::duration since_on) {
  heat_mixture out;
  const double time = units::in_seconds(since_on - run.first);
  for (const auto& each : run.curves) {
    const double left = (1.0 - each.share) * std::exp(-time / each.slow_s) +
                        (each.share > 0.0 ? each.share * std::exp(-time / each.fast_s) : 0.0);
    const double variance = each.level_variance + (left - 2.0 * each.mean_left) * left * each.amplitude_variance;
    out.parts.push_back({each.level_K - each.amplitude_K * left, std::sqrt(std::max(0.0, variance)), each.weight});
  }
  return out;
}

}  // namespace rewound::checks
