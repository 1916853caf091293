// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cmath>
#include <numbers>
#include <optional>
#include <vector>

#include <rewound/base/compiled.hpp>
#include <rewound/checks/insulation.hpp>
#include <rewound/measurement/instrument.hpp>
#include <rewound/measurement/uncertain.hpp>
#include <rewound/record/insulation_class.hpp>
#include <rewound/units/quantity.hpp>
#include <rewound/units/temperature.hpp>

namespace rewound::checks {

REWOUND_INLINE double factor_to_40_C(units::temperature winding, record::insulation_system system) {
  const double t = units::in_celsius(winding);
  if (system == record::insulation_system::thermoplastic) return std::pow(0.5, (40.0 - t) / 10.0);
  const double coefficient = t > 40.0 ? 4230.0 : 1245.0;
  return std::exp(-coefficient * (1.0 / (t + 273.0) - 1.0 / 313.0));
}

REWOUND_INLINE double independent_uncertainty(const insulation_input& in, std::size_t i) {
  const auto& here = in.readings[i];
  const double digit = (in.tester.digit_uncertainty() / here.resistance).value();
  const auto& before = in.readings[i == 0 ? 0 : i - 1];
  const auto& after = in.readings[std::min(i + 1, in.readings.size() - 1)];
  const double run = std::log((after.time / before.time).value());
  const double slope = run > 0.0 ? std::log((after.resistance / before.resistance).value()) / run : 0.0;
  const double late = slope * (in.time_limit / here.time).value() / std::numbers::sqrt3;
  return std::hypot(digit, in.reading_spread, late);
}

namespace detail {

inline std::optional<std::size_t> at_time(const std::vector<insulation_reading>& readings, double seconds) {
  for (std::size_t i = 0; i < readings.size(); ++i)
    if (std::abs(units::in_seconds(readings[i].time) - seconds) < 0.5) return i;
  return std::nullopt;
}

/// Later over earlier reading of one tester: its gain error cancels, the independent part does not.
inline std::optional<measurement::uncertain<double>> ratio(const insulation_input& in, double later, double earlier) {
  const auto top = at_time(in.readings, later);
  const auto bottom = at_time(in.readings, earlier);
  if (!top || !bottom) return std::nullopt;
  const double value = (in.readings[*top].resistance / in.readings[*bottom].resistance).value();
  return measurement::uncertain<double>{
      value, value * std::hypot(independent_uncertainty(in, *top), independent_uncertainty(in, *bottom))};
}

/// Relative standard uncertainty of the corrected value that the temperature's makes: the factor over plus and minus
/// one standard uncertainty, since the thermosetting formula has a kink at 40 degC.
inline double temperature_part(const insulation_input& in, record::insulation_system system) {
  const auto u = in.winding_uncertainty;
  return 0.5 * std::log(factor_to_40_C(in.winding + u, system) / factor_to_40_C(in.winding - u, system));
}

inline measurement::uncertain<units::resistance> corrected(const insulation_input& in,
                                                           const measurement::uncertain<units::resistance>& one_minute,
                                                           record::insulation_system system) {
  const units::resistance value = factor_to_40_C(in.winding, system) * one_minute.value;
  const double from_tester = (one_minute.standard_uncertainty / one_minute.value).value();
  return {value, std::hypot(temperature_part(in, system), from_tester) * value};
}

/// The reading at one minute, or what stands in for it, of the whole winding.
inline void take_one_minute(const insulation_input& in, insulation_result& out) {
  const double gain = in.tester.gain_uncertainty();
  if (const auto place = at_time(in.readings, 60.0)) {
    const units::resistance value = in.readings[*place].resistance / in.divisor;
    out.independent_u = independent_uncertainty(in, *place);
    out.at_one_minute = {value, std::hypot(gain, out.independent_u) * value};
  } else if (in.fitted_one_minute) {
    out.one_minute_read = false;
    const auto& fitted = *in.fitted_one_minute;
    const double relative = (fitted.standard_uncertainty / fitted.value).value();
    out.independent_u = std::sqrt(std::max(0.0, relative * relative - gain * gain));
    out.at_one_minute = {fitted.value / in.divisor, fitted.standard_uncertainty / in.divisor};
  }
}

}  // namespace detail

REWOUND_INLINE insulation_result insulation(const insulation_input& in) {
  using record::insulation_system;
  insulation_result out;
  const double t = units::in_celsius(in.winding);
  out.correction_valid = t >= 10.0 && t <= 85.0;
  detail::take_one_minute(in, out);
  if (out.at_one_minute) {
    out.thermosetting_at_40 = detail::corrected(in, *out.at_one_minute, insulation_system::thermosetting);
    out.thermoplastic_at_40 = detail::corrected(in, *out.at_one_minute, insulation_system::thermoplastic);
    out.thermosetting_temperature_u = detail::temperature_part(in, insulation_system::thermosetting);
    out.thermoplastic_temperature_u = detail::temperature_part(in, insulation_system::thermoplastic);
  }
  out.polarization = detail::ratio(in, 600.0, 60.0);
  out.absorption = detail::ratio(in, 60.0, 30.0);
  out.from_ten = detail::ratio(in, 60.0, 10.0);
  if (const auto place = detail::at_time(in.readings, 10.0))
    out.at_ten_seconds = in.readings[*place].resistance / in.divisor;
  return out;
}

}  // namespace rewound::checks
