// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>
#include <limits>
#include <string>
#include <string_view>
#include <vector>

#include <Eigen/Core>

#include <rewound/base/compiled.hpp>
#include <rewound/base/expect.hpp>
#include <rewound/checks/absorption.hpp>
#include <rewound/checks/detail/absorption_search.hpp>
#include <rewound/fit/least_squares.hpp>
#include <rewound/measurement/normal.hpp>
#include <rewound/measurement/uncertain.hpp>
#include <rewound/units/quantity.hpp>

namespace rewound::checks {

namespace detail {

/// The stated accuracy counts as this many degrees of freedom when readings scatter more (as in fit/current_curve.hpp).
inline constexpr double stated_degrees_of_freedom = 4.0;

/// Currents over that of the last reading, the smallest of a rising resistance.
inline absorption_points points_of(const absorption_input& in) {
  absorption_points out;
  for (const auto& reading : in.readings) {
    base::expect(reading.time.value() > 0.0, "time", reading.time.value(), "seconds above 0");
    base::expect(reading.resistance.value() > 0.0, "resistance", reading.resistance.value(), "ohms above 0");
    base::expect(reading.relative_uncertainty > 0.0, "relative_uncertainty", reading.relative_uncertainty,
                 "a number above 0");
    const double current = in.readings.back().resistance.value() / reading.resistance.value();
    out.push_back({units::in_seconds(reading.time) / 60.0, current, current * reading.relative_uncertainty});
  }
  return out;
}

inline double ampere_scale(const absorption_input& in) {
  return in.test_voltage.value() / in.readings.back().resistance.value();
}

/// Least squares from the searched start, for the free parameters only: exponent and absorption, and leakage when
/// it is free too.
inline fit::least_squares_result polish(const absorption_points& points, const split_current& start, double exponent,
                                        bool with_leakage) {
  const Eigen::Index first = with_leakage ? 1 : 0;
  Eigen::VectorXd at(2 + first);
  if (with_leakage) at[0] = start.leakage;
  at[first] = start.absorption;
  at[first + 1] = exponent;
  const auto count = static_cast<Eigen::Index>(points.size());
  const auto residuals = [&, first, count](const Eigen::VectorXd& p) {
    Eigen::VectorXd out(count);
    for (Eigen::Index i = 0; i < count; ++i) {
      const auto& reading = points[static_cast<std::size_t>(i)];
      const double model = (first == 1 ? p[0] : 0.0) + p[first] * std::pow(reading.minutes, -p[first + 1]);
      out[i] = (reading.current - model) / reading.uncertainty;
    }
    return out;
  };
  const auto jacobian = [&, first, count](const Eigen::VectorXd& p) {
    Eigen::MatrixXd out(count, 2 + first);
    for (Eigen::Index i = 0; i < count; ++i) {
      const auto& reading = points[static_cast<std::size_t>(i)];
      const double decay = std::pow(reading.minutes, -p[first + 1]);
      if (first == 1) out(i, 0) = -1.0 / reading.uncertainty;
      out(i, first) = -decay / reading.uncertainty;
      out(i, first + 1) = p[first] * decay * std::log(reading.minutes) / reading.uncertainty;
    }
    return out;
  };
  return fit::fit_least_squares(residuals, jacobian, at);
}

inline void take(absorption_result& out, const fit::least_squares_result& found, bool with_leakage, double amperes) {
  const Eigen::Index first = with_leakage ? 1 : 0;
  out.status = with_leakage ? absorption_status::fitted : absorption_status::no_leakage;
  out.leakage = units::amperes(with_leakage ? amperes * found.parameters[0] : 0.0);
  out.absorption = units::amperes(amperes * found.parameters[first]);
  out.exponent = found.parameters[first + 1];
  const Eigen::Vector3d unit(amperes, amperes, 1.0);
  for (Eigen::Index i = 1 - first; i < 3; ++i)
    for (Eigen::Index j = 1 - first; j < 3; ++j)
      out.covariance(i, j) =
          out.scale * out.scale * unit[i] * unit[j] * found.covariance_unscaled(i - 1 + first, j - 1 + first);
}

/// Sum of squares of a constant current, its weighted mean.
inline split_current constant_current(const absorption_points& points) {
  split_current out{0.0, 0.0, 0.0};
  double weights = 0.0;
  for (const auto& p : points) {
    weights += 1.0 / (p.uncertainty * p.uncertainty);
    out.leakage += p.current / (p.uncertainty * p.uncertainty);
  }
  out.leakage /= weights;
  for (const auto& p : points) out.chi2 += std::pow((p.current - out.leakage) / p.uncertainty, 2);
  return out;
}

}  // namespace detail

REWOUND_INLINE absorption_result absorption(const absorption_input& in) {
  absorption_result out;
  out.readings = in;
  if (in.readings.size() < 3) return out;
  const auto points = detail::points_of(in);
  const double amperes = detail::ampere_scale(in);
  detail::decays by(points);
  const auto [best, split] = detail::best_split(points, by);
  const auto flat = detail::constant_current(points);
  out.chi2 = best.chi2;
  out.degrees_of_freedom = static_cast<int>(points.size()) - 3;
  const double stated = detail::stated_degrees_of_freedom;
  if (!in.absolute) out.scale = std::sqrt(std::max(1.0, (stated + out.chi2) / (stated + out.degrees_of_freedom)));
  // 5.99: the 95 % point of chi-squared with two degrees of freedom, those that absorption adds (standard tables)
  if (split.absorption <= 0.0 || flat.chi2 - best.chi2 < 5.99 * out.scale * out.scale) {
    out.status = absorption_status::no_absorption;
    out.leakage = units::amperes(amperes * flat.leakage);
    out.absorption = units::amperes(0.0);
    return out;
  }
  const double margin = 1e-6;
  const bool at_end = best.exponent < detail::exponent_low + margin || best.exponent > detail::exponent_high - margin;
  const auto found =
      at_end ? fit::least_squares_result{} : detail::polish(points, split, best.exponent, split.leakage > 0.0);
  if (found.usable() && found.chi2 <= best.chi2 * (1.0 + 1e-6) + 1e-9) {
    detail::take(out, found, split.leakage > 0.0, amperes);
    return out;
  }
  out.status = at_end                ? absorption_status::exponent_at_bound
               : split.leakage > 0.0 ? absorption_status::fitted
                                     : absorption_status::no_leakage;
  out.leakage = units::amperes(amperes * split.leakage);
  out.absorption = units::amperes(amperes * split.absorption);
  out.exponent = best.exponent;
  return out;
}

REWOUND_INLINE predicted<units::resistance> predicted_resistance(const absorption_result& fit, units::duration time,
                                                                 double coverage) {
  base::expect(fit.usable(), "fit", "too few readings", "a fit of three readings or more");
  const auto points = detail::points_of(fit.readings);
  const double minutes = units::in_seconds(time) / 60.0;
  detail::decays by(points, {minutes});
  const auto [best, split] = detail::best_split(points, by);
  const double centre = std::log(split.leakage + split.absorption * std::pow(minutes, -best.exponent));
  const double allowed = best.chi2 + std::pow(coverage * fit.scale, 2);
  const auto allowed_at = [&](double current) { return detail::some_with_current(points, by, current, allowed); };
  constexpr double far = 40.0;  // e^40: no interval reaches there unless nothing limits it
  const double low = detail::region_end(allowed_at, centre, -1.0, centre - far);
  const double high = detail::region_end(allowed_at, centre, 1.0, centre + far);
  const double scale = detail::ampere_scale(fit.readings);
  const auto ohms = [&](double log_current) {
    return fit.readings.test_voltage / units::amperes(scale * std::exp(log_current));
  };
  return {ohms(centre), {ohms(high), ohms(low)}};
}

REWOUND_INLINE predicted<double> predicted_ratio(const absorption_result& fit, units::duration later,
                                                 units::duration earlier, double coverage) {
  base::expect(fit.usable(), "fit", "too few readings", "a fit of three readings or more");
  base::expect(later > earlier && earlier.value() > 0.0, "later", later.value(), "a time after the earlier one");
  const auto points = detail::points_of(fit.readings);
  const double before = units::in_seconds(earlier) / 60.0;
  const double after = units::in_seconds(later) / 60.0;
  detail::decays by(points, {before, after});
  const auto [best, split] = detail::best_split(points, by);
  const double centre = std::log((split.leakage + split.absorption * std::pow(before, -best.exponent)) /
                                 (split.leakage + split.absorption * std::pow(after, -best.exponent)));
  const double allowed = best.chi2 + std::pow(coverage * fit.scale, 2);
  const auto allowed_at = [&](double ratio) { return detail::some_with_ratio(points, by, ratio, allowed); };
  const double most = detail::exponent_high * std::log(after / before);
  return {std::exp(centre),
          {std::exp(detail::region_end(allowed_at, centre, -1.0, 0.0)),
           std::exp(detail::region_end(allowed_at, centre, 1.0, most))}};
}

namespace detail {

/// Ends of the region about `best` of a current that is not below 0.
template <class Allowed>
measurement::interval<double> region_of_current(const Allowed& allowed_at, double best) {
  constexpr double far = 40.0;       // as above
  constexpr double nothing = 1e-12;  // of the last reading's current
  const double start = std::log(std::max(best, nothing));
  const double low = allowed_at(0.0) ? 0.0 : std::exp(region_end(allowed_at, start, -1.0, start - far));
  return {low, std::exp(region_end(allowed_at, start, 1.0, start + far))};
}

}  // namespace detail

REWOUND_INLINE absorption_ranges parameter_ranges(const absorption_result& fit, double coverage) {
  base::expect(fit.usable(), "fit", "too few readings", "a fit of three readings or more");
  const auto points = detail::points_of(fit.readings);
  detail::decays by(points);
  const auto [best, split] = detail::best_split(points, by);
  const double allowed = best.chi2 + std::pow(coverage * fit.scale, 2);
  const auto leakage = detail::region_of_current(
      [&](double current) { return detail::some_with_leakage(points, by, current, allowed); }, split.leakage);
  const auto absorbed = detail::region_of_current(
      [&](double current) { return detail::some_with_absorption(points, by, current, allowed); }, split.absorption);
  const auto exponent_allowed = [&](double value) { return detail::split_at(points, by.at(value)).chi2 <= allowed; };
  const double centre = std::log(best.exponent);
  const measurement::interval<double> exponent{
      std::exp(detail::region_end(exponent_allowed, centre, -1.0, std::log(detail::exponent_low))),
      std::exp(detail::region_end(exponent_allowed, centre, 1.0, std::log(detail::exponent_high)))};
  const double scale = detail::ampere_scale(fit.readings);
  const auto amperes = [&](const measurement::interval<double>& range) {
    return measurement::interval<units::current>{units::amperes(scale * range.low), units::amperes(scale * range.high)};
  };
  return {amperes(leakage), amperes(absorbed), exponent};
}

}  // namespace rewound::checks
