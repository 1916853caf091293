// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>

#include <rewound/base/expect.hpp>
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
inline rolled_leads_result rolled_leads(const rolled_leads_input& in) {
  base::expect(in.shift == 1 || in.shift == 2, "shift", in.shift, "1 or 2");
  const auto mean_of = [](const std::array<units::current, 3>& lines) {
    return (lines[0].value() + lines[1].value() + lines[2].value()) / 3.0;
  };
  const double mean_before = mean_of(in.before);
  const double mean_after = mean_of(in.after);
  base::expect(mean_before > 0.0 && mean_after > 0.0, "currents", std::min(mean_before, mean_after),
               "three currents, not all of them 0");
  std::array<double, 3> before{};
  std::array<double, 3> moved{};  // before less after: the winding of this line less that of the line it came from
  for (std::size_t i = 0; i < 3; ++i) {
    before[i] = 100.0 * (in.before[i].value() / mean_before - 1.0);
    moved[i] = before[i] - 100.0 * (in.after[i].value() / mean_after - 1.0);
  }
  rolled_leads_result out{};
  const double u =
      100.0 * in.digit_uncertainty.value() * std::hypot(1.0 / mean_before, 1.0 / mean_after) * std::sqrt(2.0) / 3.0;
  out.winding_percent = {0.0, u};
  out.line_percent = {0.0, u};
  for (std::size_t i = 0; i < 3; ++i) {
    out.winding[i] = (moved[i] - moved[(i + static_cast<std::size_t>(in.shift)) % 3]) / 3.0;
    out.line[i] = before[i] - out.winding[i];
    out.winding_percent.value = std::max(out.winding_percent.value, std::abs(out.winding[i]));
    out.line_percent.value = std::max(out.line_percent.value, std::abs(out.line[i]));
  }
  return out;
}

}  // namespace rewound::checks
