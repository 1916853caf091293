// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>
#include <numbers>
#include <optional>

#include <rewound/measurement/uncertain.hpp>
#include <rewound/units/quantity.hpp>

namespace rewound::checks {

/// What was read of a capacitor: by a meter out of circuit, or volts across it and amperes through it in circuit.
struct capacitor_input {
  units::capacitance marked;
  std::optional<measurement::uncertain<units::capacitance>> by_meter;
  std::optional<measurement::uncertain<units::voltage>> across;
  std::optional<measurement::uncertain<units::current>> through;
  units::frequency supply;
};

struct capacitor_result {
  measurement::uncertain<units::capacitance> measured;
  measurement::uncertain<double> deviation_percent;  ///< from what is marked
};

/// The capacitance, by the meter where there is one, else I / (2 pi f U) of sinusoidal volts and amperes; nothing where
/// neither was read.
inline std::optional<capacitor_result> capacitor(const capacitor_input& in) {
  std::optional<measurement::uncertain<units::capacitance>> read = in.by_meter;
  if (!read && in.across && in.through) {
    const double volts = in.across->value.value(), amperes = in.through->value.value();
    const double per_volt = 1.0 / (2.0 * std::numbers::pi * in.supply.value() * volts);
    const double u = per_volt * std::hypot(in.through->standard_uncertainty.value(),
                                           amperes * in.across->standard_uncertainty.value() / volts);
    read = {units::farads(amperes * per_volt), units::farads(u)};
  }
  if (!read) return std::nullopt;
  const double marked = in.marked.value();
  return capacitor_result{
      *read, {100.0 * (read->value.value() / marked - 1.0), 100.0 * read->standard_uncertainty.value() / marked}};
}

}  // namespace rewound::checks
