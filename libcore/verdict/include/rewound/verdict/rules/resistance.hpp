// SPDX-License-Identifier: MIT
#pragma once

#include <optional>
#include <vector>

#include <rewound/checks/resistance.hpp>
#include <rewound/record/record.hpp>
#include <rewound/verdict/finding.hpp>
#include <rewound/verdict/policy.hpp>

namespace rewound::verdict::rules {

/// Which wire, or how many turns, would explain what was measured; each where the rest of the winding is known.
struct wire_explanation {
  std::optional<measurement::uncertain<double>> diameter_mm;
  std::optional<double> awg;  ///< of that diameter; seldom whole
  std::optional<measurement::uncertain<double>> turns;
};

/// The most that leads may add to a low-ohmic reading of which the record says nothing: the practice's, or the whole
/// reading where that is less. Absent where they are stated, or small beside the reading.
std::optional<double> assumed_leads_ohm(const record::resistance_section& of, const policy& rules);

/// Relative standard uncertainty of a design value, by wire and mean turn.
double design_uncertainty(const policy& rules);

/// One section's resistance: no standard limits it; shops compare with the design, the last visit or the wire. All are
/// held against what the machine's volts and amps allow; without anything to compare with it is noted.
///
/// @param running_A  of the fastest speed at the rated voltage, read or else marked; absent: not known
std::vector<finding> resistance(const record::resistance_section& of, const record::machine_section& machine,
                                const checks::resistance_result& result, const wire_explanation& explained,
                                const std::optional<double>& running_A, const policy& rules);

/// The finding of a record without any section.
finding resistance_missing();

/// Start windings and what lies between speed leads were measured, and nothing else.
finding resistance_without_main();

/// A section that the earlier visit has under another name, if at all: nothing of it was compared.
finding resistance_without_counterpart(const std::string& section,
                                       const std::vector<record::resistance_section>& before);

}  // namespace rewound::verdict::rules

#ifndef REWOUND_COMPILED
#include <rewound/verdict/impl/rules/resistance.hpp>
#endif
