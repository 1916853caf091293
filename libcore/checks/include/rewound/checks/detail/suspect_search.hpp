// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cmath>
#include <functional>
#include <optional>
#include <vector>

#include <Eigen/Core>

#include <rewound/checks/detail/misreading.hpp>
#include <rewound/fit/linear.hpp>
#include <rewound/measurement/distribution.hpp>
#include <rewound/measurement/instrument.hpp>
#include <rewound/measurement/run_up.hpp>

namespace rewound::checks::detail {

/// A reading in logarithms, with the relative standard uncertainties that are independent from reading to reading.
struct log_point {
  int index;
  double log_voltage;
  double log_current;
  double u_voltage;
  double u_current;
  double voltage;  ///< as read, in SI units: what a report shows must be the record's own number
  double current;
};

// Thresholds of the search: common practice, no source.
inline constexpr double lowest_plausible_exponent = -1.5;
inline constexpr double highest_plausible_exponent = 4.0;
inline constexpr double model_floor = 0.004;    ///< how well a parabola in logs follows a real curve
inline constexpr double line_floor = 0.03;      ///< how well a line does where three readings allow no more
inline constexpr double least_deviation = 0.03; ///< smaller deviations are left to the curve's own uncertainty
inline constexpr double false_alarm = 0.005;    ///< per run-up, shared among its readings

/// Log points of the readings with a turning rotor, sorted by voltage; a reading of zero current is reported at once.
inline std::vector<log_point> usable_points(const measurement::run_up& run,
                                            const measurement::instrument<units::voltage>& voltmeter,
                                            const measurement::instrument<units::current>& ammeter,
                                            std::vector<suspect_reading>& found, std::size_t place) {
  std::vector<log_point> out;
  for (const auto& reading : run.readings) {
    if (!reading.turning || reading.voltage.value() <= 0.0) continue;
    if (reading.current.value() < 0.5 * ammeter.resolution.value()) {
      found.push_back({place, reading.index, false, suspicion::reads_zero, reading.current.value(), std::nullopt, true});
      continue;
    }
    out.push_back({reading.index, std::log(reading.voltage.value()), std::log(reading.current.value()),
                   (voltmeter.digit_uncertainty() / reading.voltage).value(),
                   (ammeter.digit_uncertainty() / reading.current).value(), reading.voltage.value(),
                   reading.current.value()});
  }
  std::stable_sort(out.begin(), out.end(),
                   [](const auto& a, const auto& b) { return a.log_voltage < b.log_voltage; });
  return out;
}

inline bool same_voltage(const log_point& a, const log_point& b) {
  return std::abs(a.log_voltage - b.log_voltage) <= 2.5 * std::hypot(a.u_voltage, b.u_voltage);
}

/// What the other points say of one: predicted log current at a log voltage, and its uncertainty there.
struct prediction {
  Eigen::VectorXd coefficients;
  Eigen::MatrixXd covariance;
  double centre;
  double dof;

  double at(double log_voltage) const { return row(log_voltage).dot(coefficients); }
  double variance_at(double log_voltage) const { return row(log_voltage).dot(covariance * row(log_voltage)); }

 private:
  Eigen::VectorXd row(double log_voltage) const {
    Eigen::VectorXd out(coefficients.size());
    for (Eigen::Index k = 0; k < out.size(); ++k) out[k] = std::pow(log_voltage - centre, static_cast<double>(k));
    return out;
  }
};

inline double point_variance(const log_point& point, double floor) {
  return point.u_current * point.u_current + point.u_voltage * point.u_voltage + floor * floor;
}

/// A curve of a running machine bends: a line is believed only as far as its floor.
inline double floor_with(std::size_t others) { return others >= 4 ? model_floor : line_floor; }

/// Polynomial in log voltage through all points but one: a parabola, or a line where fewer than four points remain.
inline std::optional<prediction> predict_without(const std::vector<log_point>& points, std::size_t left_out) {
  const auto n = static_cast<Eigen::Index>(points.size()) - 1;
  const Eigen::Index columns = n >= 4 ? 3 : 2;
  const double floor = floor_with(points.size() - 1);
  if (n < columns) return std::nullopt;
  const double centre = points[points.size() / 2].log_voltage;
  Eigen::MatrixXd design(n, columns);
  Eigen::VectorXd target(n);
  Eigen::VectorXd weights(n);
  Eigen::Index row = 0;
  for (std::size_t i = 0; i < points.size(); ++i) {
    if (i == left_out) continue;
    for (Eigen::Index k = 0; k < columns; ++k)
      design(row, k) = std::pow(points[i].log_voltage - centre, static_cast<double>(k));
    target[row] = points[i].log_current;
    weights[row++] = 1.0 / point_variance(points[i], floor);
  }
  const auto fitted = fit::fit_linear(design, target, weights);
  if (!fitted.usable()) return std::nullopt;
  // The meters' accuracy counts as four degrees of freedom; see fit/current_curve.hpp.
  constexpr double known = 4.0;
  const double dof = known + static_cast<double>(fitted.degrees_of_freedom);
  const double scale = std::max(1.0, (known + fitted.chi2) / dof);
  return prediction{fitted.parameters, fitted.covariance_unscaled * scale, centre, dof};
}

/// The slip of current or voltage that brings the point closest to the prediction, if any brings it near.
inline suspect_reading explained(const log_point& point, const std::function<double(double)>& predicted,
                                 double tolerance, double current_digit, double voltage_digit) {
  suspect_reading out{0, point.index, false, suspicion::off_curve, point.current, std::nullopt, true};
  double best = tolerance;
  for (const auto& slip : possible_slips(point.current, current_digit)) {
    const double away = std::abs(std::log(slip.value) - predicted(point.log_voltage));
    if (slip.value > 0.0 && away < best) {
      best = away;
      out.why = slip.why;
      out.would_fit = slip.value;
    }
  }
  if (out.would_fit) return out;
  for (const auto& slip : possible_slips(point.voltage, voltage_digit)) {
    const double away = std::abs(point.log_current - predicted(std::log(slip.value)));
    if (slip.value > 0.0 && away < best) {
      best = away;
      out.why = slip.why;
      out.would_fit = slip.value;
      out.voltage = true;
      out.read = point.voltage;
    }
  }
  return out;
}

/// How far from the curve of the others one of `count` points may lie.
inline double off_curve_bound(const log_point& point, const prediction& others, std::size_t count) {
  const double u = std::sqrt(others.variance_at(point.log_voltage) + point_variance(point, floor_with(count - 1)));
  const double share = false_alarm / (2.0 * static_cast<double>(count));
  return std::max(least_deviation, u * measurement::student_quantile(1.0 - share, others.dof));
}

/// Deleted residuals: each point against the curve of the others, the worst one removed while it lies beyond a
/// t limit shared among the points (Bonferroni).
inline std::vector<suspect_reading> off_curve(std::vector<log_point>& points, double current_digit,
                                              double voltage_digit) {
  std::vector<suspect_reading> out;
  const std::size_t most = points.size() / 3;
  while (points.size() >= 4 && out.size() < most) {
    std::size_t worst = points.size();
    double worst_excess = 1.0;
    for (std::size_t i = 0; i < points.size(); ++i) {
      const auto others = predict_without(points, i);
      if (!others) continue;
      const double z = points[i].log_voltage;
      const double deviation = std::abs(points[i].log_current - others->at(z));
      const double excess = deviation / off_curve_bound(points[i], *others, points.size());
      if (excess > worst_excess) {
        worst_excess = excess;
        worst = i;
      }
    }
    if (worst == points.size()) break;
    const auto others = predict_without(points, worst);
    // A value is offered only if it would not be suspect itself.
    const double tolerance = off_curve_bound(points[worst], *others, points.size());
    out.push_back(explained(points[worst], [&](double z) { return others->at(z); }, tolerance, current_digit,
                            voltage_digit));
    points.erase(points.begin() + static_cast<std::ptrdiff_t>(worst));
  }
  return out;
}

inline bool plausible_between(const log_point& low, const log_point& high) {
  const double dz = high.log_voltage - low.log_voltage;
  const double di = high.log_current - low.log_current;
  const double slack = 3.0 * std::hypot(low.u_current, high.u_current, 2.0 * std::hypot(low.u_voltage, high.u_voltage)) +
                       model_floor;
  return di <= highest_plausible_exponent * dz + slack && di >= lowest_plausible_exponent * dz - slack;
}

inline bool all_plausible(const std::vector<log_point>& points) {
  for (std::size_t i = 0; i + 1 < points.size(); ++i)
    if (!plausible_between(points[i], points[i + 1])) return false;
  return true;
}

/// With two or three readings: if the exponents between neighbours cannot be, the one reading that a slip of its
/// current explains is named; where none or several would do, they are said to disagree.
inline std::vector<suspect_reading> implausible(const std::vector<log_point>& points, double current_digit) {
  std::vector<suspect_reading> out;
  if (all_plausible(points)) return out;
  for (std::size_t i = 0; i < points.size(); ++i) {
    double best = 0.6;
    std::optional<suspect_reading> slip_found;
    for (const auto& slip : possible_slips(points[i].current, current_digit)) {
      auto changed = points;
      changed[i].log_current = std::log(slip.value);
      if (slip.value <= 0.0 || !all_plausible(changed)) continue;
      const double rise = changed.back().log_current - changed.front().log_current;
      const double away = std::abs(rise / (changed.back().log_voltage - changed.front().log_voltage + 1e-12) - 1.0);
      if (away > best) continue;
      best = away;
      slip_found = {0, points[i].index, false, slip.why, points[i].current, slip.value, true};
    }
    if (slip_found) out.push_back(*slip_found);
  }
  if (out.size() == 1) return out;
  out.clear();
  for (const auto& point : points)
    out.push_back({0, point.index, false, suspicion::readings_disagree, point.current, std::nullopt, false});
  return out;
}

/// Repeated readings of one voltage that differ by more than the meter and a few percent of drift allow.
inline void disagreements(const std::vector<log_point>& points, std::vector<suspect_reading>& out) {
  for (std::size_t i = 0; i + 1 < points.size(); ++i) {
    if (!same_voltage(points[i], points[i + 1])) continue;
    const double allowed = 3.0 * std::hypot(points[i].u_current, points[i + 1].u_current) + least_deviation;
    if (std::abs(points[i].log_current - points[i + 1].log_current) <= allowed) continue;
    for (const auto& point : {points[i], points[i + 1]})
      if (std::none_of(out.begin(), out.end(), [&](const auto& s) { return s.index == point.index; }))
        out.push_back({0, point.index, false, suspicion::readings_disagree, point.current, std::nullopt, false});
  }
}

/// Neighbours between which the current falls although the voltage rises, beyond their uncertainty.
inline void falls(const std::vector<log_point>& points, std::vector<suspect_reading>& out) {
  for (std::size_t i = 0; i + 1 < points.size(); ++i) {
    if (same_voltage(points[i], points[i + 1])) continue;
    const double allowed = 3.0 * std::hypot(points[i].u_current, points[i + 1].u_current) + least_deviation / 3.0;
    if (points[i].log_current - points[i + 1].log_current <= allowed) continue;
    const auto& point = points[i + 1];
    if (std::none_of(out.begin(), out.end(), [&](const auto& s) { return s.index == point.index; }))
      out.push_back({0, point.index, false, suspicion::falls_with_voltage, point.current, std::nullopt, false});
  }
}

/// Whether a fall has to be told: always with few readings; with four or more only where the current falls at the top
/// or over the whole run, because a loaded fan may well draw more at low voltage, smoothly.
inline bool fall_is_odd(const std::vector<log_point>& points) {
  if (points.size() < 4) return true;
  const auto& top = points.back();
  const auto& below = points[points.size() - 2];
  return top.log_current < points.front().log_current || top.log_current < below.log_current;
}

/// All suspect readings of one speed.
inline std::vector<suspect_reading> search_one_speed(std::vector<log_point> points, double current_digit,
                                                     double voltage_digit) {
  std::vector<suspect_reading> out;
  if (points.size() >= 4) out = off_curve(points, current_digit, voltage_digit);
  else if (points.size() >= 2) out = implausible(points, current_digit);
  disagreements(points, out);
  if ((out.empty() || points.size() >= 4) && fall_is_odd(points)) falls(points, out);
  return out;
}

}  // namespace rewound::checks::detail
