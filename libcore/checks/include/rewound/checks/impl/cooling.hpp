// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cmath>
#include <limits>
#include <string_view>
#include <vector>

#include <Eigen/Core>

#include <rewound/base/compiled.hpp>
#include <rewound/base/expect.hpp>
#include <rewound/checks/cooling.hpp>
#include <rewound/fit/linear.hpp>
#include <rewound/measurement/uncertain.hpp>
#include <rewound/units/quantity.hpp>

namespace rewound::checks {

namespace detail {

/// Readings that stand above the ambient's value, with the logarithm of the excess and its weight.
struct cooling_line {
  Eigen::MatrixXd design;
  Eigen::VectorXd logs;
  Eigen::VectorXd weights;
};

inline cooling_line cooling_line_of(const cooling_input& in) {
  std::vector<const cooling_reading*> usable;
  const double u = in.digit_uncertainty.value();
  for (const auto& reading : in.readings)
    if (reading.resistance.value() - in.at_ambient.value() > 2.0 * u) usable.push_back(&reading);
  const auto count = static_cast<Eigen::Index>(usable.size());
  cooling_line out{Eigen::MatrixXd::Ones(count, 2), Eigen::VectorXd(count), Eigen::VectorXd(count)};
  for (Eigen::Index i = 0; i < count; ++i) {
    const auto& reading = *usable[static_cast<std::size_t>(i)];
    const double excess = reading.resistance.value() - in.at_ambient.value();
    out.design(i, 1) = units::in_seconds(reading.time);
    out.logs[i] = std::log(excess);
    out.weights[i] = (excess / u) * (excess / u);
  }
  return out;
}

}  // namespace detail

REWOUND_INLINE cooling_result cooling(const cooling_input& in) {
  base::expect(!in.readings.empty(), "readings", "none", "one reading or more");
  base::expect(in.digit_uncertainty.value() > 0.0, "digit_uncertainty", in.digit_uncertainty.value(), "ohms above 0");
  cooling_result out;
  const auto& first = in.readings.front();
  const auto highest = std::max_element(in.readings.begin(), in.readings.end(),
                                        [](const auto& a, const auto& b) { return a.resistance < b.resistance; });
  const double u = in.digit_uncertainty.value();
  // A difference of two readings is beyond rounding at three of its standard uncertainties.
  if ((highest->resistance - first.resistance).value() > 3.0 * std::sqrt(2.0) * u) {
    out.status = cooling_status::highest_taken;
    out.at_switch_off = {highest->resistance, in.digit_uncertainty};
    return out;
  }
  const auto line = detail::cooling_line_of(in);
  if (line.logs.size() == 0) return out;
  if (in.readings.size() == 1) {
    out.status = cooling_status::first_taken;
    out.at_switch_off = {first.resistance, in.digit_uncertainty};
    return out;
  }
  const auto found = fit::fit_linear(line.design, line.logs, line.weights);
  if (!found.usable() || !(found.parameters[1] < 0.0)) return out;
  constexpr double stated =
      4.0;  // the accuracy statement counts as this many degrees of freedom (fit/current_curve.hpp)
  const double widened = (stated + found.chi2) / (stated + static_cast<double>(found.degrees_of_freedom));
  const double excess = std::exp(found.parameters[0]);
  out.status = cooling_status::extrapolated;
  out.at_switch_off = {units::ohms(in.at_ambient.value() + excess),
                       units::ohms(excess * std::sqrt(found.covariance_unscaled(0, 0) * std::max(1.0, widened)))};
  out.time_constant = units::seconds(-1.0 / found.parameters[1]);
  return out;
}

}  // namespace rewound::checks
