// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>
#include <optional>
#include <vector>

#include <rewound/machine/insulation_class.hpp>
#include <rewound/measurement/instrument.hpp>
#include <rewound/measurement/uncertain.hpp>
#include <rewound/units/quantity.hpp>
#include <rewound/units/temperature.hpp>

namespace rewound::checks {

struct insulation_reading {
  units::duration time;  ///< since the full test voltage was reached
  units::resistance resistance;
};

struct insulation_input {
  std::vector<insulation_reading> readings;
  units::temperature winding;
  units::temperature_difference winding_uncertainty;  ///< standard uncertainty
  measurement::instrument<units::resistance> tester;
};

/// Insulation resistance at one minute brought to 40 degC, and the ratios of the time curve. What was not read is absent.
struct insulation_result {
  std::optional<measurement::uncertain<units::resistance>> at_one_minute;
  std::optional<measurement::uncertain<units::resistance>> thermosetting_at_40;
  std::optional<measurement::uncertain<units::resistance>> thermoplastic_at_40;
  bool correction_valid = true;                                ///< 10 to 85 degC, the range of the thermosetting formula
  std::optional<measurement::uncertain<double>> polarization;  ///< R(600 s) / R(60 s)
  std::optional<measurement::uncertain<double>> absorption;    ///< R(60 s) / R(30 s)
};

/// Factor that brings an insulation resistance from `winding` to 40 degC.
///
/// Thermoplastic: 0.5^((40 - T) / 10) (IEEE 43-2000 and 2013, 6.3). Thermosetting: exp(-4230 (1/(T+273) - 1/313))
/// from 40 to 85 degC and exp(-1245 (1/(T+273) - 1/313)) from 10 to 40 degC (IEEE 43-2013 6.3; the two
/// coefficients from memory, unverified; 273 and not 273.15 stands in the formula). Outside that range the
/// nearer branch is carried on and insulation_result::correction_valid is false.
inline double factor_to_40_C(units::temperature winding, machine::insulation_system system) {
  const double t = units::in_celsius(winding);
  if (system == machine::insulation_system::thermoplastic) return std::pow(0.5, (40.0 - t) / 10.0);
  const double coefficient = t > 40.0 ? 4230.0 : 1245.0;
  return std::exp(-coefficient * (1.0 / (t + 273.0) - 1.0 / 313.0));
}

namespace detail {

inline std::optional<units::resistance> at_time(const std::vector<insulation_reading>& readings, double seconds) {
  for (const auto& reading : readings)
    if (std::abs(units::in_seconds(reading.time) - seconds) < 0.5) return reading.resistance;
  return std::nullopt;
}

/// Later over earlier reading of one tester: its gain error cancels, the digit part does not.
inline std::optional<measurement::uncertain<double>> ratio(const insulation_input& in, double later, double earlier) {
  const auto top = at_time(in.readings, later);
  const auto bottom = at_time(in.readings, earlier);
  if (!top || !bottom) return std::nullopt;
  const double value = (*top / *bottom).value();
  const double digit = in.tester.digit_uncertainty().value();
  return measurement::uncertain<double>{value, value * std::hypot(digit / top->value(), digit / bottom->value())};
}

inline measurement::uncertain<units::resistance> corrected(const insulation_input& in, units::resistance one_minute,
                                                           machine::insulation_system system) {
  const double factor = factor_to_40_C(in.winding, system);
  const units::resistance value = factor * one_minute;
  // The factor's slope by a central difference over +-0.5 K; the formula has a kink at 40 degC.
  const auto half = units::kelvins(0.5);
  const double slope = std::log(factor_to_40_C(in.winding + half, system) / factor_to_40_C(in.winding - half, system));
  const double from_temperature = slope * units::in_kelvins(in.winding_uncertainty);
  const double from_tester = (in.tester.standard_uncertainty(one_minute) / one_minute).value();
  return {value, std::hypot(from_temperature, from_tester) * value};
}

}  // namespace detail

/// Brings one circuit's insulation readings to reference conditions.
inline insulation_result insulation(const insulation_input& in) {
  insulation_result out;
  const double t = units::in_celsius(in.winding);
  out.correction_valid = t >= 10.0 && t <= 85.0;
  if (const auto one_minute = detail::at_time(in.readings, 60.0)) {
    out.at_one_minute = {*one_minute, in.tester.standard_uncertainty(*one_minute)};
    out.thermosetting_at_40 = detail::corrected(in, *one_minute, machine::insulation_system::thermosetting);
    out.thermoplastic_at_40 = detail::corrected(in, *one_minute, machine::insulation_system::thermoplastic);
  }
  out.polarization = detail::ratio(in, 600.0, 60.0);
  out.absorption = detail::ratio(in, 60.0, 30.0);
  return out;
}

}  // namespace rewound::checks
