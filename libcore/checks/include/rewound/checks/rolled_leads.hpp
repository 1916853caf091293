// SPDX-License-Identifier: MIT
#pragma once

#include <array>

#include <rewound/measurement/uncertain.hpp>
#include <rewound/units/quantity.hpp>

namespace rewound::checks {

struct rolled_leads_input {
  std::array<units::current, 3> before;  ///< by line, leads as marked
  std::array<units::current, 3> after;   ///< by line, each lead moved on by `shift` lines
  int shift;                             ///< 1 or 2
  units::current digit_uncertainty;      ///< standard, of one reading by itself
};

/// What of the unbalance moved with the leads and what stayed with the lines, in percent of the mean current.
struct rolled_leads_result {
  std::array<double, 3> winding;                   ///< deviation by lead, in the order of the marks
  std::array<double, 3> line;                      ///< deviation by line: the supply's, or the ammeters'
  measurement::uncertain<double> winding_percent;  ///< the largest of each
  measurement::uncertain<double> line_percent;
};

/// Parts the unbalance of line currents into the windings' and the lines'. A line's deviation is taken as the sum of
/// the line's own and that of the winding on its lead: line i holds lead i before and lead i - shift after. Both parts
/// add to zero, so that the two readings decide them; each combines four readings by a third.
///
/// Common practice, no source (rolling the leads); the two parts adding up is an approximation for unbalances that are
/// small.
///
/// @throws base::error (precondition) for currents that are all zero, or a shift other than 1 or 2
rolled_leads_result rolled_leads(const rolled_leads_input& in);

}  // namespace rewound::checks

#ifndef REWOUND_COMPILED
#include <rewound/checks/impl/rolled_leads.hpp>
#endif
