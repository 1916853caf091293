// SPDX-License-Identifier: MIT
#pragma once

#include <optional>
#include <string>
#include <vector>

#include <rewound/base/compiled.hpp>
#include <rewound/checks/draw.hpp>
#include <rewound/fit/curve_choice.hpp>
#include <rewound/measurement/instrument.hpp>
#include <rewound/measurement/run_up.hpp>
#include <rewound/units/quantity.hpp>

namespace rewound::checks {

REWOUND_INLINE fit::curve_reading curve_reading_of(const measurement::run_up_reading& reading, const draw_input& in) {
  return {(reading.voltage / in.rated_voltage).value(), units::in_amperes(reading.current),
          (in.voltmeter.digit_uncertainty() / reading.voltage).value(),
          (in.ammeter.digit_uncertainty() / reading.current).value()};
}

REWOUND_INLINE draw_result draw(const draw_input& in) {
  draw_result out;
  for (const auto& run : in.run_ups) {
    std::vector<fit::curve_reading> readings;
    for (const auto& reading : run.readings)
      if (reading.turning && reading.voltage.value() > 0.0 && reading.current.value() > 0.0)
        readings.push_back(curve_reading_of(reading, in));
    out.speeds.push_back({run.speed, fit::fit_current_curve(readings)});
  }
  return out;
}

REWOUND_INLINE measurement::uncertain<units::current> current_at(const fit::current_curve& curve,
                                                                 units::voltage voltage, const draw_input& in) {
  const double x = (voltage / in.rated_voltage).value();
  const auto log = fit::log_current(curve, x);
  const double local = fit::evaluate(curve.family, curve.parameters, x).exponent;
  const double u =
      std::hypot(log.standard_uncertainty, in.ammeter.gain_uncertainty(), local * in.voltmeter.gain_uncertainty());
  const units::current value = units::amperes(std::exp(log.value));
  return {value, u * value};
}

}  // namespace rewound::checks
