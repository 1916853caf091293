// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cmath>
#include <optional>
#include <string_view>
#include <vector>

#include <Eigen/Core>
#include <Eigen/LU>

#include <rewound/base/compiled.hpp>
#include <rewound/base/expect.hpp>
#include <rewound/checks/detail/heat_curve.hpp>
#include <rewound/checks/heat_run.hpp>
#include <rewound/measurement/normal.hpp>
#include <rewound/measurement/uncertain.hpp>
#include <rewound/units/quantity.hpp>
#include <rewound/units/temperature.hpp>

namespace rewound::checks {

namespace detail {

inline constexpr double half_hour_s = 1800.0;

inline heat_points points_of(const heat_run_input& in) {
  const auto count = static_cast<Eigen::Index>(in.readings.size());
  heat_points out{Eigen::VectorXd(count), Eigen::VectorXd(count), Eigen::VectorXd(count)};
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
  line.col(1) = in.times;
  const auto found = fit::fit_linear(line, in.rises, in.weights);
  return found.usable() && found.parameters[1] < -3.0 * std::sqrt(found.covariance_unscaled(1, 1));
}

inline heat_mixture mixture_of(const heat_grid& grid, double end_time, bool remainder) {
  heat_mixture out;
  for (std::size_t i = 0; i < grid.fits.size(); ++i) {
    const auto& each = grid.fits[i];
    Eigen::VectorXd by = Eigen::VectorXd::Zero(each.found.parameters.size());
    if (remainder) by.tail(by.size() - 1) = -each.slopes(end_time).segment(1, by.size() - 1);
    else by[0] = 1.0;
    const double variance = by.dot(each.found.covariance_unscaled * by);
    out.parts.push_back(
        {by.dot(each.found.parameters), grid.scale * std::sqrt(std::max(0.0, variance)), grid.weights[i]});
  }
  return out;
}

inline std::optional<units::duration> steady_after(const heat_fit& best, double end_time, double within_K) {
  const double longest = 20.0 * std::exp(best.log_taus.front());
  const double earliest = std::max(0.0, half_hour_s - end_time);
  for (double more = earliest; more <= longest; more += 60.0)
    if (best.at(end_time + more) - best.at(end_time + more - half_hour_s) <= within_K) return units::seconds(more);
  return std::nullopt;
}

/// Readings go on at the usual distance; the linearised fit, with the prior on the slow time constant, tells when the
/// final rise is known.
inline std::optional<units::duration> known_after(const heat_points& in, const heat_grid& grid, const heat_prior& prior,
                                                  double within_K) {
  const auto& best = grid.fits[grid.best];
  const auto parts = static_cast<Eigen::Index>(best.log_taus.size());
  Eigen::MatrixXd information = Eigen::MatrixXd::Zero(1 + 2 * parts, 1 + 2 * parts);
  information(1 + parts, 1 + parts) = 1.0 / (prior.log_spread * prior.log_spread);
  const auto add = [&](double time, double weight) {
    const auto by = best.slopes(time);
    information += weight / (grid.scale * grid.scale) * by * by.transpose();
  };
  for (Eigen::Index i = 0; i < in.times.size(); ++i) add(in.times[i], in.weights[i]);
  const double end = in.times[in.times.size() - 1];
  const double apart = end / static_cast<double>(in.times.size() - 1);
  const double longest = 20.0 * std::exp(best.log_taus.front());
  for (double more = apart; more <= longest; more += apart) {
    add(end + more, in.weights.mean());
    const double variance = information.inverse()(0, 0);
    if (variance > 0.0 && measurement::coverage_95 * std::sqrt(variance) <= within_K) return units::seconds(more);
  }
  return std::nullopt;
}

}  // namespace detail

REWOUND_INLINE heat_run_result heat_run(const heat_run_input& in) {
  base::expect(in.time_constant_factor > 1.0, "time_constant_factor", in.time_constant_factor, "a number above 1");
  base::expect(in.usual_time_constant.value() > 0.0, "usual_time_constant", in.usual_time_constant.value(),
               "seconds above 0");
  heat_run_result out;
  const auto points = detail::points_of(in);
  if (in.readings.size() < 3) return out;
  if (detail::falls(points)) {
    out.status = heat_run_status::not_heating;
    return out;
  }
  const detail::heat_prior prior{std::log(units::in_seconds(in.usual_time_constant)),
                                 std::log(in.time_constant_factor)};
  auto grid = detail::one_part(points, prior);
  if (!grid.usable()) return out;
  // A second time constant cannot gain more than there is.
  if (in.readings.size() >= 7 && grid.fits[grid.best].found.chi2 > in.two_parts_certainty) {
    auto two = detail::two_parts(points, prior);
    if (two.usable() && grid.fits[grid.best].found.chi2 - two.fits[two.best].found.chi2 > in.two_parts_certainty)
      grid = std::move(two);
  }
  const auto& best = grid.fits[grid.best];
  const double end = points.times[points.times.size() - 1];
  out.status = heat_run_status::projected;
  out.final_rise = detail::mixture_of(grid, end, false);
  out.remainder = detail::mixture_of(grid, end, true);
  for (const double log_tau : best.log_taus) out.time_constants.push_back(units::seconds(std::exp(log_tau)));
  out.at_end = units::kelvins(best.at(end));
  out.chi2 = best.found.chi2;
  out.scale = grid.scale;
  out.change_in_30_min = units::kelvins(best.at(end) - best.at(std::max(0.0, end - detail::half_hour_s)));
  out.steady_after = detail::steady_after(best, end, units::in_kelvins(in.steady_within));
  const double within = units::in_kelvins(in.known_within);
  const double half = 0.5 * (out.final_rise.quantile(0.975) - out.final_rise.quantile(0.025));
  out.known_after = half <= within ? units::seconds(0.0) : detail::known_after(points, grid, prior, within);
  return out;
}

}  // namespace rewound::checks
