// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>
#include <cstddef>
#include <vector>

#include <rewound/base/compiled.hpp>
#include <rewound/base/expect.hpp>
#include <rewound/checks/section_balance.hpp>
#include <rewound/measurement/uncertain.hpp>
#include <rewound/units/quantity.hpp>

namespace rewound::checks {

REWOUND_INLINE section_balance_result section_balance(const section_balance_input& in) {
  const auto n = static_cast<double>(in.sections.size());
  base::expect(in.sections.size() >= 2, "sections", n, "two sections or more");
  double sum = 0.0;
  double variance = 0.0;
  for (const auto& section : in.sections) {
    sum += section.value.value();
    variance += section.standard_uncertainty.value() * section.standard_uncertainty.value();
  }
  const double mean = sum / n;
  section_balance_result out{units::ohms(mean), 0, {0.0, 0.0}};
  for (std::size_t i = 0; i < in.sections.size(); ++i) {
    const double deviation = 100.0 * (in.sections[i].value.value() / mean - 1.0);
    if (i > 0 && std::abs(deviation) <= std::abs(out.deviation_percent.value)) continue;
    out.farthest = i;
    // d(R_i / mean): the own reading counts (1 - 1/n), each other one 1/n, to first order near balance.
    const double own = in.sections[i].standard_uncertainty.value() * in.sections[i].standard_uncertainty.value();
    const double u = std::sqrt(own * (1.0 - 2.0 / n) + variance / (n * n));
    out.deviation_percent = {deviation, 100.0 * u / mean};
  }
  return out;
}

}  // namespace rewound::checks
