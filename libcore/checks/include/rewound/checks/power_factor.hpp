// SPDX-License-Identifier: MIT
#pragma once

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
power_factor_result power_factor(const power_factor_input& in);

}  // namespace rewound::checks

#ifndef REWOUND_COMPILED
#include <rewound/checks/impl/power_factor.hpp>
#endif
