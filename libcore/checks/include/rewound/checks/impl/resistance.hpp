// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>
#include <optional>

#include <rewound/base/compiled.hpp>
#include <rewound/checks/resistance.hpp>
#include <rewound/machine/conductor.hpp>
#include <rewound/measurement/instrument.hpp>
#include <rewound/measurement/uncertain.hpp>
#include <rewound/units/quantity.hpp>
#include <rewound/units/temperature.hpp>

namespace rewound::checks {

namespace detail {

inline double temperature_part(const resistance_reading& reading, const resistance_input& in) {
  return machine::relative_slope_per_K(reading.winding, in.material, in.copper_K) *
         units::in_kelvins(reading.winding_uncertainty);
}

inline double lead_part(const resistance_reading& reading) {
  return (reading.leads.standard_uncertainty / reading.of_winding()).value();
}

inline measurement::uncertain<units::resistance> referred(const resistance_reading& reading, units::temperature to,
                                                          const resistance_input& in) {
  const units::resistance value =
      machine::at_temperature(reading.of_winding(), reading.winding, to, in.material, in.copper_K);
  const double meter = (reading.ohmmeter.standard_uncertainty(reading.resistance) / reading.of_winding()).value();
  return {value, std::hypot(meter, temperature_part(reading, in), lead_part(reading)) * value};
}

/// Relative uncertainty of the ratio of two readings: one meter's gain error cancels, and its leads' with it as far as
/// the resistances are alike; two meters' errors do not.
inline double ratio_uncertainty(const resistance_input& in) {
  const auto& now = in.measured;
  const auto& before = *in.earlier;
  const bool same = now.ohmmeter.same_meter(before.ohmmeter);
  const double digits = std::hypot((now.ohmmeter.digit_uncertainty() / now.of_winding()).value(),
                                   (before.ohmmeter.digit_uncertainty() / before.of_winding()).value());
  const double gains = same ? 0.0 : std::hypot(now.ohmmeter.gain_uncertainty(), before.ohmmeter.gain_uncertainty());
  const double leads =
      same ? std::abs(lead_part(now) - lead_part(before)) : std::hypot(lead_part(now), lead_part(before));
  const double temperatures = std::hypot(temperature_part(now, in), temperature_part(before, in));
  return std::hypot(std::hypot(digits, gains, temperatures), leads);
}

inline resistance_comparison compared(const resistance_result& measured,
                                      const measurement::uncertain<units::resistance>& expected,
                                      double relative_uncertainty) {
  const double ratio = (measured.at_20_C.value / expected.value).value();
  return {expected, {100.0 * (ratio - 1.0), 100.0 * ratio * relative_uncertainty}};
}

inline double relative(const measurement::uncertain<units::resistance>& value) {
  return (value.standard_uncertainty / value.value).value();
}

inline void judge_by(resistance_result& out, resistance_basis basis, const resistance_comparison& comparison) {
  if (out.basis != resistance_basis::nothing) return;
  out.basis = basis;
  out.expected_at_20_C = comparison.expected_at_20_C.value;
  out.deviation_percent = comparison.deviation_percent;
}

}  // namespace detail

REWOUND_INLINE resistance_result resistance(const resistance_input& in) {
  const auto reference = units::celsius(20.0);
  resistance_result out{detail::referred(in.measured, reference, in),
                        detail::referred(in.measured, units::celsius(25.0), in), std::nullopt, std::nullopt};
  const double measured = detail::relative(out.at_20_C);
  if (in.expected) {
    const auto design = machine::at_temperature(*in.expected, in.expected_at, reference, in.material, in.copper_K);
    out.against_design = detail::compared(out, {design, units::ohms(0.0)}, measured);
    detail::judge_by(out, resistance_basis::design, *out.against_design);
  }
  if (in.earlier) {
    out.against_earlier =
        detail::compared(out, detail::referred(*in.earlier, reference, in), detail::ratio_uncertainty(in));
    detail::judge_by(out, resistance_basis::earlier, *out.against_earlier);
  }
  if (in.from_wire) {
    out.against_wire = detail::compared(out, *in.from_wire, std::hypot(measured, detail::relative(*in.from_wire)));
    detail::judge_by(out, resistance_basis::wire, *out.against_wire);
  }
  return out;
}

}  // namespace rewound::checks
