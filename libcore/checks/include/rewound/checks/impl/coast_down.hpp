// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <optional>
#include <string_view>
#include <vector>

#include <Eigen/Core>

#include <rewound/base/compiled.hpp>
#include <rewound/base/expect.hpp>
#include <rewound/checks/coast_down.hpp>
#include <rewound/fit/dense.hpp>
#include <rewound/fit/least_squares.hpp>
#include <rewound/fit/linear.hpp>
#include <rewound/measurement/distribution.hpp>
#include <rewound/measurement/uncertain.hpp>
#include <rewound/units/quantity.hpp>

namespace rewound::checks {

REWOUND_INLINE double coasting_speed(double initial, const friction_terms& terms, double time) {
  const double d = 4.0 * terms.constant * terms.quadratic - terms.linear * terms.linear;
  const double half = 0.5 * std::sqrt(std::abs(d)) * time;
  if (d > 0.0 && half >= 1.5707963) return std::numeric_limits<double>::quiet_NaN();
  double t = 0.5 * time;
  if (half > 1e-8) t *= (d > 0.0 ? std::tan(half) : std::tanh(half)) / half;
  const double deceleration = terms.constant + terms.linear * initial + terms.quadratic * initial * initial;
  const double slope = terms.linear + 2.0 * terms.quadratic * initial;
  return initial - 2.0 * deceleration * t / (1.0 + slope * t);
}

REWOUND_INLINE double coasting_time(double initial, const friction_terms& terms) {
  if (!(terms.constant > 0.0)) return std::numeric_limits<double>::infinity();
  const double d = 4.0 * terms.constant * terms.quadratic - terms.linear * terms.linear;
  const double base = initial / (2.0 * terms.constant + terms.linear * initial);
  const double x = std::sqrt(std::abs(d)) * base;
  if (x < 1e-8) return 2.0 * base;
  return 2.0 * base * (d > 0.0 ? std::atan(x) : std::atanh(x)) / x;
}

namespace detail {

/// Readings over their first speed and their span, so that every number of the fit is about 1.
struct coast_points {
  Eigen::VectorXd times;
  Eigen::VectorXd speeds;
  Eigen::VectorXd uncertainties;
  double unit_speed = 1.0;
  double unit_time = 1.0;
};

inline coast_points points_of(const coast_down_input& in) {
  std::vector<coast_down_reading> moving;
  for (const auto& reading : in.readings)
    if (reading.speed.value() > 0.0) moving.push_back(reading);
  const auto count = static_cast<Eigen::Index>(moving.size());
  coast_points out{Eigen::VectorXd(count), Eigen::VectorXd(count), Eigen::VectorXd(count)};
  if (count < 3) return out;
  out.unit_speed = moving.front().speed.value();
  out.unit_time = units::in_seconds(moving.back().time - moving.front().time);
  for (Eigen::Index i = 0; i < count; ++i) {
    const auto& reading = moving[static_cast<std::size_t>(i)];
    out.times[i] = units::in_seconds(reading.time - moving.front().time) / out.unit_time;
    out.speeds[i] = reading.speed.value() / out.unit_speed;
    if (i > 0) base::expect(out.times[i] > out.times[i - 1], "time", out.times[i], "times that rise");
  }
  for (Eigen::Index i = 0; i < count; ++i) {
    // The slope from the neighbours turns an error of the time into one of the speed.
    const auto before = std::max<Eigen::Index>(0, i - 1);
    const auto after = std::min<Eigen::Index>(count - 1, i + 1);
    const double slope = (out.speeds[after] - out.speeds[before]) / (out.times[after] - out.times[before]);
    out.uncertainties[i] = std::hypot(in.digit_uncertainty.value() / out.unit_speed,
                                      slope * units::in_seconds(in.time_uncertainty) / out.unit_time);
  }
  return out;
}

inline bool slows(const coast_points& in) {
  Eigen::MatrixXd line = Eigen::MatrixXd::Ones(in.times.size(), 2);
  Eigen::VectorXd weights = in.uncertainties;
  for (Eigen::Index i = 0; i < weights.size(); ++i) {
    line(i, 1) = in.times[i];
    weights[i] = 1.0 / (weights[i] * weights[i]);
  }
  const auto found = fit::fit_linear(line, in.speeds, weights);
  return found.usable() && found.parameters[1] < -3.0 * std::sqrt(found.covariance_unscaled(1, 1));
}

/// Of parameters that begin with the speed.
inline bool no_term_below_zero(const Eigen::VectorXd& parameters) {
  return std::all_of(parameters.begin() + 1, parameters.end(), [](double term) { return term >= 0.0; });
}

/// Which of the three terms are free, as bits.
struct coast_fit {
  int free = 0;
  fit::least_squares_result found;
  friction_terms terms() const { return terms_of(found.parameters); }

  friction_terms terms_of(const Eigen::VectorXd& parameters) const {
    std::array<double, 3> all{};
    Eigen::Index next = 1;
    for (int k = 0; k < 3; ++k)
      if (free & (1 << k)) all[static_cast<std::size_t>(k)] = parameters[next++];
    return {all[0], all[1], all[2]};
  }
  bool physical() const { return found.usable() && no_term_below_zero(found.parameters); }
};

/// A straight start: the terms share the mean deceleration.
inline coast_fit fit_coast(const coast_points& in, int free) {
  coast_fit out;
  out.free = free;
  const int terms = (free & 1) + ((free >> 1) & 1) + ((free >> 2) & 1);
  if (in.times.size() < terms + 1) return out;
  const auto residuals = [&](const Eigen::VectorXd& parameters) {
    const auto friction = out.terms_of(parameters);
    Eigen::VectorXd off(in.times.size());
    for (Eigen::Index i = 0; i < off.size(); ++i)
      off[i] = (coasting_speed(parameters[0], friction, in.times[i]) - in.speeds[i]) / in.uncertainties[i];
    return off;
  };
  Eigen::VectorXd start =
      Eigen::VectorXd::Constant(1 + terms, (in.speeds[0] - in.speeds[in.speeds.size() - 1]) / terms);
  start[0] = in.speeds[0];
  out.found = fit::fit_least_squares(residuals, start);
  return out;
}

/// The best fit whose terms are all 0 or more: with three terms there are seven ways to set some of them to 0, and the
/// best of the physical ones is the bounded minimum (the curve is the same where a term leaves 0).
inline std::optional<coast_fit> best_coast(const coast_points& in) {
  std::optional<coast_fit> best;
  for (int free = 7; free >= 1; --free) {
    auto fitted = fit_coast(in, free);
    if (!fitted.physical()) continue;
    if (!best || fitted.found.chi2 < best->found.chi2) best = std::move(fitted);
  }
  return best;
}

/// Covariance of speed and all three terms at the point reached, those at 0 among them: what a term at its bound may
/// still be.
inline Eigen::MatrixXd coast_covariance(const coast_points& in, const coast_fit& best) {
  Eigen::VectorXd at(4);
  const auto terms = best.terms();
  at[0] = best.found.parameters[0];
  at[1] = terms.constant, at[2] = terms.linear, at[3] = terms.quadratic;
  const auto speeds = [&](const Eigen::VectorXd& p) {
    Eigen::VectorXd out(in.times.size());
    for (Eigen::Index i = 0; i < out.size(); ++i)
      out[i] = coasting_speed(p[0], {p[1], p[2], p[3]}, in.times[i]) / in.uncertainties[i];
    return out;
  };
  const auto found = fit::fit_linear(fit::numeric_jacobian(speeds, at, 0.1), Eigen::VectorXd::Zero(in.times.size()));
  return found.usable() ? found.covariance_unscaled
                        : Eigen::MatrixXd::Constant(4, 4, std::numeric_limits<double>::infinity());
}

inline void tell_parts(const coast_points& in, const coast_fit& best, coast_down_result& out) {
  const double x = out.compare_at / in.unit_speed;
  const double unit = in.unit_speed / in.unit_time;  // rad/s2
  const auto terms = best.terms();
  const std::array<double, 3> values{terms.constant, terms.linear * x, terms.quadratic * x * x};
  const Eigen::MatrixXd covariance = coast_covariance(in, best);
  const std::array<double, 3> in_si{unit, 1.0 / in.unit_time, 1.0 / (in.unit_speed * in.unit_time)};
  const std::array<double, 3> by{1.0, x, x * x};
  for (std::size_t k = 0; k < 3; ++k) {
    const auto i = static_cast<Eigen::Index>(k);
    for (std::size_t l = 0; l < 3; ++l) {
      const auto j = static_cast<Eigen::Index>(l);
      out.covariance(i, j) = out.scale * out.scale * covariance(i + 1, j + 1) * in_si[k] * in_si[l];
    }
    out.fitted[k] = (best.free & (1 << k)) != 0;
    out.parts[k] = {unit * values[k], unit * out.scale * by[k] * std::sqrt(covariance(i + 1, i + 1))};
  }
  // Of the sum only what is free varies: a term at its bound cannot take from the others.
  Eigen::VectorXd free = Eigen::VectorXd::Zero(best.found.parameters.size());
  for (Eigen::Index k = 0, next = 1; k < 3; ++k)
    if (best.free & (1 << k)) free[next++] = by[static_cast<std::size_t>(k)];
  out.deceleration = {unit * (values[0] + values[1] + values[2]),
                      unit * out.scale * std::sqrt(fit::dot(free, fit::applied(best.found.covariance_unscaled, free)))};
}

/// The sum of squares with one term held, and how far it may rise. All in the units of coast_points.
class coast_profile {
 public:
  coast_profile(const coast_points& in, const coast_fit& best, int held, double limit)
      : in_(in), best_(best), held_(held), limit_(limit) {}

  term_interval ends(double step) const {
    const auto terms = best_.terms();
    const std::array<double, 3> values{terms.constant, terms.linear, terms.quadratic};
    const double at = values[static_cast<std::size_t>(held_)];
    return {at > 0.0 ? end_below(at) : 0.0, end_above(at, step)};
  }

 private:
  /// The least sum above the limit, over all ways to set some of the other terms to 0; infinite where no curve exists.
  double excess(double value) const {
    double least = std::numeric_limits<double>::infinity();
    for (int free = 0; free < 8; ++free)
      if (!(free & (1 << held_))) least = std::min(least, lowest(free, value));
    return least - limit_;
  }

  friction_terms terms_at(int free, const Eigen::VectorXd& p, double value) const {
    std::array<double, 3> all{};
    Eigen::Index next = 1;
    for (int k = 0; k < 3; ++k) {
      if (k == held_) all[static_cast<std::size_t>(k)] = value;
      else if (free & (1 << k)) all[static_cast<std::size_t>(k)] = p[next++];
    }
    return {all[0], all[1], all[2]};
  }

  double lowest(int free, double value) const {
    const int count = (free & 1) + ((free >> 1) & 1) + ((free >> 2) & 1);
    const auto residuals = [&](const Eigen::VectorXd& p) {
      const auto terms = terms_at(free, p, value);
      Eigen::VectorXd off(in_.times.size());
      for (Eigen::Index i = 0; i < off.size(); ++i)
        off[i] = (coasting_speed(p[0], terms, in_.times[i]) - in_.speeds[i]) / in_.uncertainties[i];
      return off;
    };
    const double fall = in_.speeds[0] - in_.speeds[in_.speeds.size() - 1];
    Eigen::VectorXd start = Eigen::VectorXd::Constant(1 + count, std::max(0.0, fall - value) / std::max(1, count));
    start[0] = in_.speeds[0];
    const auto found = fit::fit_least_squares(residuals, start);
    const bool physical = found.usable() && no_term_below_zero(found.parameters);
    return physical ? found.chi2 : std::numeric_limits<double>::infinity();
  }

  double end_below(double at) const {
    if (!(excess(0.0) > 0.0)) return 0.0;
    return between(at, 0.0);
  }

  double end_above(double at, double step) const {
    constexpr int doublings = 60;
    for (int i = 0; i < doublings; ++i, step *= 2.0)
      if (excess(at + step) > 0.0) return between(at, at + step);
    return std::numeric_limits<double>::infinity();
  }

  /// Halves between a value within and one beyond.
  double between(double within, double beyond) const {
    constexpr int halvings = 45;
    for (int i = 0; i < halvings; ++i) {
      const double middle = 0.5 * (within + beyond);
      (excess(middle) > 0.0 ? beyond : within) = middle;
    }
    return within;
  }

  const coast_points& in_;
  const coast_fit& best_;
  int held_;
  double limit_;
};

}  // namespace detail

REWOUND_INLINE coast_down_result coast_down(const coast_down_input& in) {
  base::expect(in.digit_uncertainty.value() > 0.0, "digit_uncertainty", in.digit_uncertainty.value(), "rad/s above 0");
  coast_down_result out;
  const auto points = detail::points_of(in);
  if (points.times.size() < 3) return out;
  const auto best = detail::slows(points) ? detail::best_coast(points) : std::nullopt;
  if (!best) {
    out.status = coast_down_status::not_slowing;
    return out;
  }
  const auto terms = best->terms();
  out.status = coast_down_status::fitted;
  out.terms = {terms.constant * points.unit_speed / points.unit_time, terms.linear / points.unit_time,
               terms.quadratic / (points.unit_speed * points.unit_time)};
  out.initial = best->found.parameters[0] * points.unit_speed;
  out.compare_at = in.compare_at ? in.compare_at->value() : points.unit_speed;
  out.chi2 = best->found.chi2;
  constexpr double stated =
      4.0;  // the accuracy statement counts as this many degrees of freedom (fit/current_curve.hpp)
  const auto dof = static_cast<double>(best->found.degrees_of_freedom);
  if (!in.absolute) out.scale = std::sqrt(std::max(1.0, (stated + out.chi2) / (stated + dof)));
  detail::tell_parts(points, *best, out);
  out.stop_s = coasting_time(out.compare_at, out.terms);
  return out;
}

REWOUND_INLINE std::array<term_interval, 3> coast_down_profile(const coast_down_input& in,
                                                               const coast_down_result& found, double level) {
  base::expect(level > 0.0 && level < 1.0, "level", level, "a number between 0 and 1");
  std::array<term_interval, 3> out{};
  if (found.status != coast_down_status::fitted) return out;
  const auto points = detail::points_of(in);
  const auto best = detail::best_coast(points);
  if (!best) return out;
  const double quantile = measurement::coverage_factor(level);
  const double limit = best->found.chi2 + std::pow(quantile * found.scale, 2);
  const std::array<double, 3> units{points.unit_speed / points.unit_time, 1.0 / points.unit_time,
                                    1.0 / (points.unit_speed * points.unit_time)};
  constexpr double first_step = 0.01;  // of a deceleration that stops within the readings
  for (std::size_t k = 0; k < 3; ++k) {
    const auto ends = detail::coast_profile(points, *best, static_cast<int>(k), limit).ends(first_step);
    out[k] = {ends.low * units[k], ends.high * units[k]};
  }
  return out;
}

}  // namespace rewound::checks
