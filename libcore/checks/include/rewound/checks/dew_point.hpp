// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>

#include <rewound/base/expect.hpp>
#include <rewound/measurement/uncertain.hpp>
#include <rewound/units/temperature.hpp>

namespace rewound::checks {

struct dew_point_input {
  units::temperature air;
  units::temperature_difference air_uncertainty;  ///< standard
  double humidity;                                ///< relative, above 0 to 1
  double humidity_uncertainty;                    ///< standard, absolute
  units::temperature winding;
  units::temperature_difference winding_uncertainty;  ///< standard, independent of the air's
};

struct dew_point_result {
  units::temperature dew_point;
  measurement::uncertain<units::temperature_difference> margin;  ///< winding above the dew point
};

/// Temperature at which air of this temperature and relative humidity begins to wet a surface.
///
/// Magnus formula over water, 243.12 degC g / (17.62 - g) with g = ln(humidity) + 17.62 t / (243.12 degC + t), t in
/// degC; -45 to 60 degC (WMO-No. 8, Guide to Instruments and Methods of Observation, annex on humidity; coefficients
/// seen in texts that quote it).
/// @throws base::error (precondition) for a humidity not above 0 or over 1
inline units::temperature dew_point_of(units::temperature air, double humidity) {
  base::expect(humidity > 0.0 && humidity <= 1.0, "humidity", humidity, "a number above 0, at most 1");
  const double t = units::in_celsius(air);
  const double g = std::log(humidity) + 17.62 * t / (243.12 + t);
  return units::celsius(243.12 * g / (17.62 - g));
}

/// How far a winding is above the dew point of the air round it.
inline dew_point_result dew_point(const dew_point_input& in) {
  const auto here = dew_point_of(in.air, in.humidity);
  const double t = units::in_celsius(here);
  // d dew point / d ln humidity from the Magnus formula: (243.12 + t)^2 / (17.62 * 243.12), t the dew point
  const double from_humidity = std::pow(243.12 + t, 2) / (17.62 * 243.12) * in.humidity_uncertainty / in.humidity;
  const double air = units::in_celsius(in.air);
  const double from_air = std::pow((243.12 + t) / (243.12 + air), 2) * units::in_kelvins(in.air_uncertainty);
  const double winding = units::in_kelvins(in.winding_uncertainty);
  return {here, {in.winding - here, units::kelvins(std::hypot(from_humidity, from_air, winding))}};
}

}  // namespace rewound::checks
