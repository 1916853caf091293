// SPDX-License-Identifier: MIT
#pragma once

#include <vector>

#include <rewound/verdict/finding.hpp>
#include <rewound/verdict/rules/tested_circuit.hpp>

namespace rewound::verdict::rules {

/// One circuit's insulation: minimum at one minute and 40 degC, the test voltage, what the time curve looks like, the
/// ratios where they mean something, and the dew point.
std::vector<finding> insulation(const tested_circuit& of, const policy& rules);

/// Of field and armature only one was tested to the frame, by the names of the circuits.
inline finding insulation_of_part(const char* tested, const char* untested) {
  return {.check = check::insulation,
          .outcome = outcome::undecided,
          .says = statement::insulation_of_part,
          .quantity = "circuits_to_frame",
          .source = "common practice, no source (the armature meets the frame by its shaft, the field by its core)",
          .texts = {{"tested", tested}, {"untested", untested}}};
}

/// The finding of a record none of whose circuits has the frame as one end.
inline finding insulation_without_frame() {
  return {.check = check::insulation,
          .outcome = outcome::undecided,
          .says = statement::insulation_without_frame,
          .quantity = "circuits_to_frame",
          .value = 0.0,
          .unit = "1",
          .source = "IEEE 43-2013 (the winding is tested to the grounded frame; from memory, unverified)"};
}

/// The finding of a record without any insulation circuit.
inline finding insulation_missing() {
  return {.check = check::insulation, .says = statement::insulation_not_measured, .quantity = "insulation_at_40_C"};
}

/// What was taken for a tester and a thermometer whose accuracy is not stated.
finding insulation_accuracy_assumed(double tester_percent, double reading_percent, bool tester, bool thermometer,
                                    double thermometer_K);

}  // namespace rewound::verdict::rules

#ifndef REWOUND_COMPILED
#include <rewound/verdict/impl/rules/insulation.hpp>
#endif
