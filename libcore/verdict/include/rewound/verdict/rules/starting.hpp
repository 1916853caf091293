// SPDX-License-Identifier: MIT
#pragma once

#include <optional>
#include <string>
#include <vector>

#include <rewound/checks/repeated_tries.hpp>
#include <rewound/checks/standstill.hpp>
#include <rewound/checks/starting.hpp>
#include <rewound/record/record.hpp>
#include <rewound/verdict/finding.hpp>
#include <rewound/verdict/policy.hpp>

namespace rewound::verdict::rules {

/// All that was tried in one position of the machine: repeated entries are repeated tries.
struct position_tries {
  std::string position;
  int attempts = 0;
  int successes = 0;
  std::vector<double> lowest_V;  ///< lowest starting voltages, in the order of the tries
  std::vector<double> to_speed_s;
};

/// Every position must start every time; the minimum number of attempts must be reached in some position. No rotor may
/// stand still at a reading near the rating.
///
/// @param proved  by the attempts of each position, one after another
std::vector<finding> starting(const record::visit_record& in, const std::vector<position_tries>& positions,
                              const std::vector<checks::starting_result>& proved, const policy& rules);

/// A rotor that stood still at a voltage where good machines of its model turned, or the machine itself before the
/// repair. Nothing where it did not, or not by more than their starting voltages differ.
///
/// @param turned_then  whose rotors turned: a key of the words of "turned_then"
std::vector<finding> standing_still(const std::string& speed, const checks::standstill_result& seen,
                                    const std::string& turned_then, const policy& rules);

/// Whether one position starts less often than the others. It informs: a failed start fails by itself.
std::vector<finding> start_positions(const std::vector<position_tries>& positions, const policy& rules);

/// Lowest starting voltage of one position, the highest of its tries, as a share of the rated one, and its trend. One
/// that is the mains' says that it started there, and no more.
///
/// @param standard_uncertainty_V  of the highest
std::vector<finding> starting_voltage(const record::visit_record& in, const position_tries& tries,
                                      double standard_uncertainty_V,
                                      const std::optional<checks::repeated_tries_result>& trend, const policy& rules);

/// Time to speed of one position, the longest of its tries, and its trend; for information, unless no machine that
/// starts freely takes so long.
std::vector<finding> time_to_speed(const position_tries& tries,
                                   const std::optional<checks::repeated_tries_result>& trend, const policy& rules);

}  // namespace rewound::verdict::rules

#ifndef REWOUND_COMPILED
#include <rewound/verdict/impl/rules/starting.hpp>
#endif
