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

/// Capacitance that takes so much current in circuit: I / (2 pi f U) of sinusoidal volts and amperes.
inline units::capacitance capacitance_in_circuit(units::voltage across, units::current through,
                                                 units::frequency supply) {
  return units::farads(through.value() / (2.0 * std::numbers::pi * supply.value() * across.value()));
}

/// The capacitance, by the meter where there is one, else in circuit; nothing where neither was read.
inline std::optional<capacitor_result> capacitor(const capacitor_input& in) {
  std::optional<measurement::uncertain<units::capacitance>> read = in.by_meter;
  if (!read && in.across && in.through) {
    const double volts = in.across->value.value(), amperes = in.through->value.value();
    const auto per_ampere = capacitance_in_circuit(in.across->value, units::amperes(1.0), in.supply);
    const double u =
        std::hypot(in.through->standard_uncertainty.value(), amperes * in.across->standard_uncertainty.value() / volts);
    read = {amperes * per_ampere, u * per_ampere};
  }
  if (!read) return std::nullopt;
  const double marked = in.marked.value();
  return capacitor_result{
      *read, {100.0 * (read->value.value() / marked - 1.0), 100.0 * read->standard_uncertainty.value() / marked}};
}

}  // namespace rewound::checks
