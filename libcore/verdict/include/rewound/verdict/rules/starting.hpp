// SPDX-License-Identifier: MIT
#pragma once

#include <optional>
#include <string>
#include <vector>

#include <rewound/checks/repeated_tries.hpp>
#include <rewound/checks/starting.hpp>
#include <rewound/verdict/finding.hpp>
#include <rewound/verdict/policy.hpp>

namespace rewound::verdict::rules {

/// Start attempts in one position of the machine.
struct starts_facts {
  std::string position;
  int attempts;
  int successes;
  checks::starting_result result;
};

/// A reading near the rating at which the rotor stood still.
struct stall_facts {
  std::string speed;
  double voltage_V;
};

/// A number read at try after try in one position.
struct tries_facts {
  std::string position;
  std::vector<double> values;   ///< in the order of the tries, at least one
  double standard_uncertainty;  ///< of the largest, in its unit
  std::optional<checks::repeated_tries_result> trend;
};

/// Every position must start every time; the minimum number of attempts must be reached in some position.
std::vector<finding> starting(const std::vector<starts_facts>& positions, const std::vector<stall_facts>& stalls,
                              const policy& rules);

/// Whether one position starts less often than the others. It informs: a failed start fails by itself.
std::vector<finding> start_positions(const std::vector<starts_facts>& positions, const policy& rules);

/// Lowest starting voltage of one position, the highest of its tries, as a share of the rated one, and its trend.
///
/// @param mains_V  at which starts were tried; a lowest voltage that is that one says that it started there, and no
/// more
std::vector<finding> starting_voltage(const tries_facts& facts, double rated_voltage_V,
                                      const std::optional<double>& mains_V, const policy& rules);

/// Time to speed of one position, the longest of its tries, and its trend; for information, unless no machine that
/// starts freely takes so long.
std::vector<finding> time_to_speed(const tries_facts& facts, const policy& rules);

}  // namespace rewound::verdict::rules

#ifndef REWOUND_COMPILED
#include <rewound/verdict/impl/rules/starting.hpp>
#endif
