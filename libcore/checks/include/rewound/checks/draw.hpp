// SPDX-License-Identifier: MIT
#pragma once

#include <optional>
#include <string>
#include <vector>

#include <rewound/fit/current_curve.hpp>
#include <rewound/measurement/instrument.hpp>
#include <rewound/measurement/run_up.hpp>
#include <rewound/measurement/uncertain.hpp>
#include <rewound/units/quantity.hpp>

namespace rewound::checks {

struct draw_input {
  std::vector<measurement::run_up> run_ups;  ///< readings that count: suspect ones already set aside
  units::voltage rated_voltage;
  measurement::instrument<units::voltage> voltmeter;
  measurement::instrument<units::current> ammeter;
};

/// One speed's curve of current against voltage; absent where no reading with a turning rotor is left.
struct speed_curve {
  std::string speed;
  std::optional<fit::current_curve> curve;
};

struct draw_result {
  std::vector<speed_curve> speeds;
};

/// A reading with the errors that are its own; meter gains are common to a curve and stay out.
fit::curve_reading curve_reading_of(const measurement::run_up_reading& reading, const draw_input& in);

/// Fits a curve of current against voltage for every speed. Readings with the rotor at rest, or of no voltage or no
/// current, carry nothing for a running curve and are left out.
draw_result draw(const draw_input& in);

/// Current of a curve at a voltage, with everything that one machine's reading is uncertain by: the fit, and the
/// gain errors of both meters (a voltmeter reading high by a share moves the current by exponent times that share).
measurement::uncertain<units::current> current_at(const fit::current_curve& curve, units::voltage voltage,
                                                  const draw_input& in);

}  // namespace rewound::checks

#ifndef REWOUND_COMPILED
#include <rewound/checks/impl/draw.hpp>
#endif
