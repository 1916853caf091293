// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>
#include <cstddef>
#include <vector>

#include <rewound/base/expect.hpp>
#include <rewound/measurement/uncertain.hpp>
#include <rewound/units/quantity.hpp>

namespace rewound::checks {

/// Sections that should be equal, all at one temperature. The uncertainties are of what differs from reading to reading
/// (digits, temperature): a gain error common to all cancels.
struct section_balance_input {
  std::vector<measurement::uncertain<units::resistance>> sections;
};

struct section_balance_result {
  units::resistance mean;
  std::size_t farthest = 0;                          ///< section that lies farthest from the mean
  measurement::uncertain<double> deviation_percent;  ///< of that section, with its sign
};

/// The largest deviation from the mean, in percent of the mean (the measure of AR100-2020's resistance test).
///
/// @throws base::error (precondition) for fewer than two sections
inline section_balance_result section_balance(const section_balance_input& in) {
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
