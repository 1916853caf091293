// SPDX-License-Identifier: MIT
#pragma once

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
units::temperature dew_point_of(units::temperature air, double humidity);

/// How far a winding is above the dew point of the air round it.
dew_point_result dew_point(const dew_point_input& in);

}  // namespace rewound::checks

#ifndef REWOUND_COMPILED
#include <rewound/checks/impl/dew_point.hpp>
#endif
