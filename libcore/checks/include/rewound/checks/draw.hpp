// SPDX-License-Identifier: MIT
#pragma once

#include <optional>
#include <string>
#include <vector>

#include <rewound/fit/curve_choice.hpp>
#include <rewound/measurement/instrument.hpp>
#include <rewound/measurement/run_up.hpp>
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
inline fit::curve_reading curve_reading_of(const measurement::run_up_reading& reading, const draw_input& in) {
  return {(reading.voltage / in.rated_voltage).value(), units::in_amperes(reading.current),
          (in.voltmeter.digit_uncertainty() / reading.voltage).value(),
          (in.ammeter.digit_uncertainty() / reading.current).value()};
}

/// Fits a curve of current against voltage for every speed. Readings with the rotor at rest, or of no voltage or no
/// current, carry nothing for a running curve and are left out.
inline draw_result draw(const draw_input& in) {
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

/// Current of a curve at a voltage, with everything that one machine's reading is uncertain by: the fit, and the
/// gain errors of both meters (a voltmeter reading high by a share moves the current by exponent times that share).
inline measurement::uncertain<units::current> current_at(const fit::current_curve& curve, units::voltage voltage,
                                                         const draw_input& in) {
  const double x = (voltage / in.rated_voltage).value();
  const auto log = fit::log_current(curve, x);
  const double local = fit::evaluate(curve.family, curve.parameters, x).exponent;
  const double u =
      std::hypot(log.standard_uncertainty, in.ammeter.gain_uncertainty(), local * in.voltmeter.gain_uncertainty());
  const units::current value = units::amperes(std::exp(log.value));
  return {value, u * value};
}

}  // namespace rewound::checks
