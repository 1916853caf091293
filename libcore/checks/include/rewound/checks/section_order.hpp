// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>
#include <cstddef>
#include <vector>

#include <rewound/measurement/uncertain.hpp>
#include <rewound/units/quantity.hpp>

namespace rewound::checks {

/// Resistances read between common and each speed's lead, fastest speed first, at one temperature. The uncertainties
/// are of what differs from reading to reading.
struct section_order_input {
  std::vector<measurement::uncertain<units::resistance>> speeds;
};

struct section_order_result {
  std::vector<measurement::uncertain<double>> rise_percent;  ///< from each speed to the next slower one
};

/// By how much the resistance rises from speed to speed.
inline section_order_result section_order(const section_order_input& in) {
  section_order_result out;
  for (std::size_t i = 1; i < in.speeds.size(); ++i) {
    const auto& fast = in.speeds[i - 1];
    const auto& slow = in.speeds[i];
    const double ratio = (slow.value / fast.value).value();
    const double relative =
        std::hypot((slow.standard_uncertainty / slow.value).value(), (fast.standard_uncertainty / fast.value).value());
    out.rise_percent.push_back({100.0 * (ratio - 1.0), 100.0 * ratio * relative});
  }
  return out;
}

}  // namespace rewound::checks
