// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>

#include <rewound/base/compiled.hpp>
#include <rewound/base/expect.hpp>
#include <rewound/checks/dew_point.hpp>
#include <rewound/measurement/uncertain.hpp>
#include <rewound/units/temperature.hpp>

namespace rewound::checks {

REWOUND_INLINE units::temperature dew_point_of(units::temperature air, double humidity) {
  base::expect(humidity > 0.0 && humidity <= 1.0, "humidity", humidity, "a number above 0, at most 1");
  const double t = units::in_celsius(air);
  const double g = std::log(humidity) + 17.62 * t / (243.12 + t);
  return units::celsius(243.12 * g / (17.62 - g));
}

REWOUND_INLINE dew_point_result dew_point(const dew_point_input& in) {
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
