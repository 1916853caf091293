// SPDX-License-Identifier: MIT
#pragma once

#include "robust_errors.hpp"

namespace rewound::fit {
namespace {

/// Least squares in logarithms with the weights of slope 1, where a search of the same curve begins.
template <class Curve>
struct plain_logs {
  static constexpr std::size_t parameters = Curve::parameters;
  static REWOUND_IN_LANES reading_point<parameters> at(const error_group& g, int i, const lanes* p) {
    const auto here = Curve::at(p, g.x[i], g.z[i]);
    reading_point<parameters> out;
    out.deviation = g.log_current[i] - here.value;
    out.weight = g.share[i] * reciprocal(g.of_current[i] + g.of_voltage[i]);
    for (std::size_t j = 0; j < parameters; ++j) out.row[j] = here.gradient[j];
    return out;
  }
};

template <class Curve>
flags start_in_logs(const error_group& g, lanes* p) {
  constexpr double least_pivot = 1e-9;
  const flags none[Curve::parameters] = {};
  const lanes undamped[Curve::parameters] = {};
  for (std::size_t j = 0; j < Curve::parameters; ++j) p[j] = lanes{};
  const auto sums = sums_at<plain_logs<Curve>>(g, p);
  const auto factors = factors_of(sums, undamped, none, least_pivot);
  for (std::size_t j = 0; j < Curve::parameters; ++j) p[j] = sums.slope[j];
  solve_with(factors, p);
  return factors.sound;
}

/// I = a x with weights: a is linear.
inline void fit_weighted_proportional_group(const error_group& g, error_answers<1>& out) {
  lanes square{}, product{};
  for (int i = 0; i < g.readings; ++i) {
    square += g.share[i] * g.x[i] * g.x[i];
    product += g.share[i] * g.x[i] * g.current[i];
  }
  out.covariance[0] = reciprocal(square);
  out.parameter[0] = product * out.covariance[0];
  out.chi2 = lanes{};
  for (int i = 0; i < g.readings; ++i) {
    const lanes deviation = g.current[i] - out.parameter[0] * g.x[i];
    out.chi2 += g.share[i] * deviation * deviation;
  }
  out.unit_variance = 1.0;
  out.settled = out.near = flags{};
  out.certified = g.sound & (g.count > 0.5) & finite(out.parameter[0]) & finite(out.covariance[0]) & finite(out.chi2);
}

/// Whether the sum is convex round here in spite of what a steep curve excuses by the voltmeter's error: then the
/// minimum next to the line or parabola is this one.
template <class Curve>
flags convex_at(const error_group& g, const lanes* p, const lanes* covariance) {
  constexpr std::size_t count = Curve::parameters;
  constexpr double little = 0.5;
  lanes excused[count] = {};
  for (int i = 0; i < g.readings; ++i) {
    const auto here = Curve::at(p, g.x[i], g.z[i]);
    const lanes inverse = reciprocal(g.of_current[i] + here.exponent * here.exponent * g.of_voltage[i]);
    const lanes pull = (g.log_current[i] - here.value) * inverse;
    const lanes size = g.share[i] * pull * pull * g.of_voltage[i];
    for (std::size_t j = 1; j < count; ++j) excused[j] += size * here.turn[j] * here.turn[j];
  }
  flags out = all_flags();
  for (std::size_t j = 1; j < count; ++j) out &= excused[j] * covariance[j * count + j] < little;
  return out;
}

/// Proportional, power and log-quadratic curves: the minimum next to the least-squares line or parabola in logarithms.
template <class Curve>
void fit_curve_in_logs(error_group& g, error_answers<Curve::parameters>& out) {
  constexpr std::size_t count = Curve::parameters;
  constexpr int most_descent = 12;
  constexpr double least_pivot = 1e-9;
  constexpr double steepest = 100.0;
  using problem = errors_in_both<Curve>;
  lane_box<count> box;
  for (std::size_t j = 0; j < count; ++j) box.low[j] = -unbounded, box.high[j] = unbounded;
  box_state<count> at;
  flags good = start_in_logs<Curve>(g, at.p);
  const lanes rounding = rounding_of<problem>(g);
  start_at<problem>(g, box, at);
  descend<problem>(g, box, rounding, most_descent, at);
  good &= settle<problem>(g, box, rounding, at);
  if (g.robust) good &= settle_robustly<problem>(g, box, rounding, at);
  const flags none[count] = {};
  good &= take_covariance(at.sums, none, least_pivot, out.covariance);
  good &= convex_at<Curve>(g, at.p, out.covariance);
  for (int i = 0; i < g.readings; ++i) good &= size_of(Curve::at(at.p, g.x[i], g.z[i]).exponent) < steepest;
  for (std::size_t j = 0; j < count; ++j) out.parameter[j] = at.p[j];
  out.chi2 = at.sums.chi2;
  out.unit_variance = mean_variance<problem>(g, at.p);
  out.settled = out.near = flags{};
  out.certified = good & g.sound & (g.count > count - 0.5) & (g.voltages > count - 0.5) & finite(out.chi2) &
                  (size_of(at.p[0]) < 300.0);
}

/// The same with a itself in place of its logarithm.
template <class Curve>
void fit_level_in_logs(error_group& g, error_answers<Curve::parameters>& out) {
  constexpr std::size_t count = Curve::parameters;
  fit_curve_in_logs<Curve>(g, out);
  const lanes a = exponential(out.parameter[0]);
  out.parameter[0] = a;
  for (std::size_t j = 0; j < count; ++j) {
    out.covariance[j] *= a;
    out.covariance[j * count] *= a;
  }
  out.certified &= finite(out.covariance[0]);
}

}  // namespace
}  // namespace rewound::fit
