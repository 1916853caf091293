// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cmath>
#include <numbers>

#include <rewound/base/expect.hpp>
#include <rewound/measurement/instrument.hpp>
#include <rewound/measurement/uncertain.hpp>
#include <rewound/units/quantity.hpp>

namespace rewound::checks {

/// Volts, amperes and watts read at once, and the meters they were read with.
struct power_factor_input {
  units::voltage voltage;  ///< three phases: between lines
  units::current current;  ///< three phases: mean of the lines
  units::power power;      ///< of all phases
  int phases;              ///< 1 or 3
  measurement::instrument<units::voltage> voltmeter;
  measurement::instrument<units::current> ammeter;
  measurement::instrument<units::power> wattmeter;
};

struct power_factor_result {
  units::power apparent;                  ///< volt-amperes
  measurement::uncertain<double> factor;  ///< active over apparent; above 1 only by error of the meters
  units::power reactive;                  ///< var, of the fundamental and all harmonics; 0 where factor exceeds 1
  bool impossible;                        ///< above volts times amperes by more than the meters' limits of error
};

/// Power factor and reactive power of one reading, and whether its watts can be at all: the active power never exceeds
/// the apparent one, whatever the waveforms (Schwarz inequality of the mean of v i; mathematics, no standard needed).
///
/// @throws base::error (precondition) for volts or amperes not above 0, or phases other than 1 or 3
inline power_factor_result power_factor(const power_factor_input& in) {
  base::expect(in.voltage.value() > 0.0, "voltage", in.voltage.value(), "a voltage above 0");
  base::expect(in.current.value() > 0.0, "current", in.current.value(), "a current above 0");
  base::expect(in.phases == 1 || in.phases == 3, "phases", in.phases, "1 or 3");
  const double lines = in.phases == 3 ? std::numbers::sqrt3 : 1.0;
  const double v = in.voltage.value();
  const double i = in.current.value();
  const double p = in.power.value();
  const double apparent = lines * v * i;
  const double relative_u = std::hypot(in.voltmeter.standard_uncertainty(in.voltage).value() / v,
                                       in.ammeter.standard_uncertainty(in.current).value() / i);
  const double u =
      std::hypot(in.wattmeter.standard_uncertainty(in.power).value() / apparent, p / apparent * relative_u);
  const double most = lines * (v + in.voltmeter.limit(in.voltage).value()) * (i + in.ammeter.limit(in.current).value());
  return {.apparent = units::watts(apparent),
          .factor = {p / apparent, u},
          .reactive = units::watts(std::sqrt(std::max(0.0, apparent * apparent - p * p))),
          .impossible = p - in.wattmeter.limit(in.power).value() > most};
}

}  // namespace rewound::checks
