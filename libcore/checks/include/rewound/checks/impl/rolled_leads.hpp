// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>

#include <rewound/base/compiled.hpp>
#include <rewound/base/expect.hpp>
#include <rewound/checks/rolled_leads.hpp>
#include <rewound/measurement/uncertain.hpp>
#include <rewound/units/quantity.hpp>

namespace rewound::checks {

REWOUND_INLINE rolled_leads_result rolled_leads(const rolled_leads_input& in) {
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
