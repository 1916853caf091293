// SPDX-License-Identifier: MIT
#pragma once

#include <optional>
#include <string>
#include <vector>

#include <rewound/checks/resistance.hpp>
#include <rewound/verdict/finding.hpp>
#include <rewound/verdict/policy.hpp>

namespace rewound::verdict::rules {

/// Which wire, or how many turns, would explain what was measured; each where the rest of the winding is known.
struct wire_explanation {
  std::optional<measurement::uncertain<double>> diameter_mm;
  std::optional<double> awg;  ///< of that diameter; seldom whole
  std::optional<measurement::uncertain<double>> turns;
};

/// One section's resistance.
struct resistance_facts {
  std::string section;
  checks::resistance_result result;
  std::optional<double> assumed_leads_ohm =
      {};  ///< most that unstated leads were taken to add; absent: stated or small
  wire_explanation explained = {};
  double design_uncertainty = 0.0;      ///< relative, standard: of a design value, by wire and mean turn
  std::optional<double> most_ohm = {};  ///< more than this the section cannot have beside the machine's volts and amps
  std::optional<double> least_ohm =
      {};  ///< less than this no such winding has; absent where the currents are not known
};

/// Winding resistances: no standard limits them; shops compare with the design, the last visit or the wire. All are
/// held against what the machine's volts and amps allow; without anything to compare with they are noted.
std::vector<finding> resistance(const std::vector<resistance_facts>& sections, const policy& rules);

}  // namespace rewound::verdict::rules

#ifndef REWOUND_COMPILED
#include <rewound/verdict/impl/rules/resistance.hpp>
#endif
