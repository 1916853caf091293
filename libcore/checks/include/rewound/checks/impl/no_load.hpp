// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cmath>
#include <optional>
#include <utility>
#include <vector>

#include <rewound/base/compiled.hpp>
#include <rewound/base/expect.hpp>
#include <rewound/checks/no_load.hpp>
#include <rewound/fit/linear.hpp>
#include <rewound/measurement/normal.hpp>
#include <rewound/measurement/uncertain.hpp>
#include <rewound/units/quantity.hpp>

namespace rewound::checks {

namespace detail {

inline double loss_of(const no_load_reading& reading, units::resistance r) {
  return reading.current.value() * reading.current.value() * r.value();
}

/// Straight part: from the current's minimum upward (below it the rotor slips and the current rises again), in the
/// order of the voltage.
inline std::vector<no_load_reading> above_current_minimum(std::vector<no_load_reading> readings, double up_to_V) {
  std::stable_sort(readings.begin(), readings.end(),
                   [](const auto& a, const auto& b) { return a.voltage < b.voltage; });
  const auto lowest = std::min_element(readings.begin(), readings.end(),
                                       [](const auto& a, const auto& b) { return a.current < b.current; });
  readings.erase(readings.begin(), lowest);
  std::erase_if(readings, [&](const auto& reading) { return reading.voltage.value() > up_to_V; });
  return readings;
}

/// The line of power without I^2 R over (V / rated)^exponent. `slope` weighs the voltage's error in; 0 leaves it out.
struct loss_line {
  const no_load_input& in;
  const std::vector<no_load_reading>& part;

  Eigen::MatrixXd design(double exponent, Eigen::Index columns) const {
    Eigen::MatrixXd out(static_cast<Eigen::Index>(part.size()), columns);
    for (Eigen::Index i = 0; i < out.rows(); ++i)
      for (Eigen::Index j = 0; j < columns; ++j) out(i, j) = std::pow(ratio(i), exponent * static_cast<double>(j));
    return out;
  }
  double ratio(Eigen::Index i) const {
    return part[static_cast<std::size_t>(i)].voltage.value() / in.rated_voltage.value();
  }
  Eigen::VectorXd power() const {
    Eigen::VectorXd out(static_cast<Eigen::Index>(part.size()));
    for (Eigen::Index i = 0; i < out.size(); ++i) out[i] = part[static_cast<std::size_t>(i)].power.value();
    return out;
  }
  Eigen::VectorXd loss() const {
    Eigen::VectorXd out(static_cast<Eigen::Index>(part.size()));
    for (Eigen::Index i = 0; i < out.size(); ++i)
      out[i] = loss_of(part[static_cast<std::size_t>(i)], in.loss_resistance);
    return out;
  }
  static double variance(const no_load_reading& reading, const no_load_input& in, double slope) {
    const double by_current =
        2.0 * reading.current.value() * in.loss_resistance.value() * reading.current_uncertainty.value();
    const double by_voltage = 2.0 * slope * reading.voltage.value() * reading.voltage_uncertainty.value() /
                              (in.rated_voltage.value() * in.rated_voltage.value());
    const double by_power = reading.power_uncertainty.value();
    return by_power * by_power + by_current * by_current + by_voltage * by_voltage;
  }
  Eigen::VectorXd weights(double slope) const {
    Eigen::VectorXd out(static_cast<Eigen::Index>(part.size()));
    for (Eigen::Index i = 0; i < out.size(); ++i) out[i] = 1.0 / variance(part[static_cast<std::size_t>(i)], in, slope);
    return out;
  }
};

/// Scatter beyond the meters widens; the accuracy statement counts as four degrees of freedom.
inline double widening(const fit::linear_result& fitted) {
  constexpr double stated = 4.0;
  return std::max(1.0, (stated + fitted.chi2) / (stated + static_cast<double>(fitted.degrees_of_freedom)));
}

/// Whether the part bends: a term of the fourth power of the voltage beyond twice its standard uncertainty.
inline bool bends(const loss_line& line, const Eigen::VectorXd& weights) {
  const auto bent = fit::fit_linear(line.design(2.0, 3), line.power() - line.loss(), weights);
  return bent.usable() &&
         std::abs(bent.parameters[2]) > 2.0 * std::sqrt(widening(bent) * bent.covariance_unscaled(2, 2));
}

struct intercept_parts {
  double power;         ///< intercept of the power itself
  double loss;          ///< and of I^2 R
  double own_variance;  ///< scatter and digits, and the core loss's exponent
};

inline std::optional<intercept_parts> intercept_of(const loss_line& line) {
  const Eigen::MatrixXd design = line.design(2.0, 2);
  const auto first = fit::fit_linear(design, line.power() - line.loss(), line.weights(0.0));
  if (!first.usable()) return std::nullopt;
  const Eigen::VectorXd weights = line.weights(first.parameters[1]);
  const auto of_power = fit::fit_linear(design, line.power(), weights);
  const auto of_loss = fit::fit_linear(design, line.loss(), weights);
  const auto both = fit::fit_linear(design, line.power() - line.loss(), weights);
  const auto low = fit::fit_linear(line.design(line.in.exponent_low, 2), line.power() - line.loss(), weights);
  const auto high = fit::fit_linear(line.design(line.in.exponent_high, 2), line.power() - line.loss(), weights);
  if (!of_power.usable() || !of_loss.usable() || !both.usable() || !low.usable() || !high.usable()) return std::nullopt;
  // The exponent may lie anywhere between the two: rectangular, half the change over root three.
  const double by_exponent = (high.parameters[0] - low.parameters[0]) / 2.0;
  return intercept_parts{of_power.parameters[0], of_loss.parameters[0],
                         widening(both) * both.covariance_unscaled(0, 0) + by_exponent * by_exponent / 3.0};
}

inline void fill_core(const no_load_input& in, const intercept_parts& intercept, no_load_result& out) {
  const no_load_reading* nearest = nullptr;
  const auto off = [&](const no_load_reading& r) {
    return std::abs(r.voltage.value() / in.rated_voltage.value() - 1.0);
  };
  for (const auto& reading : in.readings)
    if (off(reading) <= in.near_rating && (nearest == nullptr || off(reading) < off(*nearest))) nearest = &reading;
  if (nearest == nullptr) return;
  const double loss = loss_of(*nearest, in.loss_resistance);
  const double core = nearest->power.value() - loss - (intercept.power - intercept.loss);
  const double by_gain = in.power_gain_uncertainty * (nearest->power.value() - intercept.power);
  const double by_loss = in.loss_uncertainty * (loss - intercept.loss);
  const double u = std::sqrt(intercept.own_variance + loss_line::variance(*nearest, in, core) + by_gain * by_gain +
                             by_loss * by_loss);
  out.core = {units::watts(core), units::watts(u)};
  out.core_at = nearest->voltage;
}

}  // namespace detail

REWOUND_INLINE no_load_result no_load(const no_load_input& in) {
  base::expect(in.rated_voltage.value() > 0.0, "rated_voltage", in.rated_voltage.value(), "a voltage above 0");
  for (const auto& reading : in.readings)
    base::expect(reading.power_uncertainty.value() > 0.0, "power_uncertainty", reading.power_uncertainty.value(),
                 "a number above 0");
  constexpr std::size_t least = 3;
  auto part = detail::above_current_minimum(in.readings, in.straight_to * in.rated_voltage.value());
  const detail::loss_line line{in, part};
  while (part.size() > least && detail::bends(line, line.weights(0.0))) part.pop_back();
  no_load_result out{.used = static_cast<int>(part.size())};
  if (part.size() < least) return out;
  const auto intercept = detail::intercept_of(line);
  if (!intercept) return out;
  out.from = part.front().voltage;
  out.to = part.back().voltage;
  const double value = intercept->power - intercept->loss;
  const double by_gain = in.power_gain_uncertainty * intercept->power;
  const double by_loss = in.loss_uncertainty * intercept->loss;
  const double u = std::sqrt(intercept->own_variance + by_gain * by_gain + by_loss * by_loss);
  out.friction_and_windage = {units::watts(value), units::watts(u)};
  const double half = measurement::coverage_95 * u;
  out.status = value - half > 0.0   ? no_load_status::separated
               : value + half < 0.0 ? no_load_status::below_nothing
                                    : no_load_status::not_told;
  if (out.status == no_load_status::separated) detail::fill_core(in, *intercept, out);
  return out;
}

}  // namespace rewound::checks
