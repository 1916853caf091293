// SPDX-License-Identifier: MIT
#pragma once

#include <optional>
#include <vector>

#include <rewound/checks/detail/misreading.hpp>
#include <rewound/checks/detail/known_curve.hpp>
#include <rewound/measurement/instrument.hpp>
#include <rewound/measurement/run_up.hpp>
#include <rewound/measurement/suspect_reading.hpp>

namespace rewound::checks {

struct suspect_input {
  std::vector<measurement::run_up> run_ups;
  measurement::instrument<units::voltage> voltmeter;
  measurement::instrument<units::current> ammeter;
  /// Current expected at the rated voltage, one per run-up, where something is known of it.
  std::vector<std::optional<units::current>> expected_at_rated;
  units::voltage rated_voltage;
  /// Watts and rpm, where they were read.
  std::vector<channel_readings> beside = {};
  /// What is known of the currents' curves, by run; may be empty.
  std::vector<std::optional<known_curve>> known_currents = {};
};

struct suspect_result {
  std::vector<suspect_reading> readings;
};

/// Finds readings that can be real but look wrong: off the curve of their own speed, disagreeing at one voltage,
/// falling while the voltage rises, zero, or out of all proportion to the other speeds or to what is expected; and
/// tries to explain each by a slip of reading (digits transposed, decimal point, range).
///
/// Nothing is dropped: the caller sets aside those with set_aside and reports all. With four readings or more of a
/// speed each is weighed against the others under a population of curves (detail/curve_evidence.hpp): is one wrong,
/// which, or did the rotor stand still at the lowest voltages? With two or three, by plausible exponents. Then all
/// speeds together, with watts, rpm and what is known of the model's curves (detail/suspect_together.hpp).
suspect_result suspect(const suspect_input& in);

}  // namespace rewound::checks

#ifndef REWOUND_COMPILED
#include <rewound/checks/impl/suspect.hpp>
#endif
