// SPDX-License-Identifier: MIT
#pragma once

#include <string>
#include <vector>

#include <rewound/measurement/suspect_reading.hpp>
#include <rewound/verdict/finding.hpp>
#include <rewound/verdict/policy.hpp>

namespace rewound::verdict::rules {

/// A suspect reading with the name of its speed.
struct named_suspect {
  std::string speed;
  measurement::suspect_reading reading;
};

/// Watts of one speed that lie above volts times amperes by more than the meters can be wrong.
struct impossible_watts {
  std::string speed;
  int first;  ///< index of the first such reading
  int count;
  int of;
  double power_W;  ///< of the first
  double apparent_VA;
};

/// Two entries of one record that cannot both be true, each as it stands.
struct contradiction {
  std::string place;  ///< what to enter again
  std::string first;
  std::string second;
  std::string source;
};

/// The least that was read on a meter's range, where that is stated and the least lies below a share of it.
struct low_reading {
  std::string meter;
  std::string place;  ///< where it was read
  double value;
  double full_scale;
  std::string unit;
};

constexpr std::string_view name(measurement::suspicion why) {
  using measurement::suspicion;
  switch (why) {
    case suspicion::digits_transposed: return "digits_transposed";
    case suspicion::decimal_slipped: return "decimal_slipped";
    case suspicion::wrong_range: return "wrong_range";
    case suspicion::off_curve: return "off_curve";
    case suspicion::readings_disagree: return "readings_disagree";
    case suspicion::falls_with_voltage: return "falls_with_voltage";
    case suspicion::rotor_at_rest: return "rotor_at_rest";
    case suspicion::current_without_voltage: return "current_without_voltage";
    case suspicion::reads_zero: return "reads_zero";
  }
  return "";
}

/// Whether the readings can be trusted: each suspect one is undecided until it is taken again.
///
/// @param stalled  readings with the rotor at rest, kept out of the curves
/// @param assumed  instruments that were used, but have no accuracy in the record
std::vector<finding> readings(const std::vector<named_suspect>& suspects, const std::vector<impossible_watts>& watts,
                              const std::vector<contradiction>& contradictions, int stalled,
                              const std::vector<std::string>& assumed);

/// What meters are asked beside their accuracy: a range that suits the reading, and the true rms of a current that is
/// no sine.
std::vector<finding> meters(const std::vector<low_reading>& low, bool ammeter_averages, const policy& rules);

}  // namespace rewound::verdict::rules

#ifndef REWOUND_COMPILED
#include <rewound/verdict/impl/rules/readings.hpp>
#endif
