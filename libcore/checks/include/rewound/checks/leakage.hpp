// SPDX-License-Identifier: MIT
#pragma once

#include <numbers>
#include <optional>
#include <vector>

#include <rewound/units/quantity.hpp>

namespace rewound::checks {

/// How a leakage reading was taken: the plug's polarity and the switch's position, as far as they are known.
struct leakage_condition {
  std::optional<bool> reversed;
  std::optional<bool> switched_on;
};

struct leakage_reading {
  units::current current;
  std::optional<units::voltage> voltage;  ///< at which it was read
  leakage_condition condition;
};

struct leakage_input {
  std::vector<leakage_reading> readings;
  units::voltage full;  ///< voltage at which the limit counts
  units::frequency frequency;
};

/// One of the four ways in which a leakage current has to be read.
struct leakage_combination {
  bool reversed;
  bool switched_on;
};

struct leakage_result {
  std::vector<double> factor;                ///< of each reading, by which it is brought up to the full voltage
  std::vector<leakage_combination> missing;  ///< combinations of polarity and switch that no reading states
  std::vector<double> capacitance_nF;        ///< winding-to-frame capacitance that alone would leak this
};

/// Capacitance that alone lets a current through: C = I / (2 pi f U).
inline double leaking_capacitance_nF(units::current current, units::voltage voltage, units::frequency frequency) {
  return 1e9 * current.value() / (2.0 * std::numbers::pi * frequency.value() * voltage.value());
}

/// Brings each reading that was taken below the full voltage up to it, in proportion (capacitive and resistive leakage
/// both grow so), and finds which combinations of polarity and switch were not read. Readings taken above are not
/// brought down.
leakage_result leakage(const leakage_input& in);

}  // namespace rewound::checks

#ifndef REWOUND_COMPILED
#include <rewound/checks/impl/leakage.hpp>
#endif
