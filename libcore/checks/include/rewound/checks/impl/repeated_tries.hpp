// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cmath>
#include <optional>
#include <vector>

#include <rewound/base/compiled.hpp>
#include <rewound/base/expect.hpp>
#include <rewound/checks/repeated_tries.hpp>
#include <rewound/measurement/distribution.hpp>

namespace rewound::checks {

REWOUND_INLINE std::optional<repeated_tries_result> repeated_tries(const repeated_tries_input& in) {
  base::expect(in.standard_uncertainty >= 0.0, "standard_uncertainty", in.standard_uncertainty, "a number not below 0");
  const double n = static_cast<double>(in.values.size());
  if (in.values.size() < 3) return std::nullopt;
  const double middle = (n - 1.0) / 2.0;
  double mean = 0.0;
  for (const double value : in.values) mean += value / n;
  double sxx = 0.0;
  double sxy = 0.0;
  double syy = 0.0;
  for (std::size_t i = 0; i < in.values.size(); ++i) {
    const double x = static_cast<double>(i) - middle;
    const double y = in.values[i] - mean;
    sxx += x * x;
    sxy += x * y;
    syy += y * y;
  }
  const double slope = sxy / sxx;
  const double scatter = std::max(0.0, syy - slope * sxy) / (n - 2.0);
  const double u = std::sqrt(std::max(scatter, in.standard_uncertainty * in.standard_uncertainty) / sxx);
  return repeated_tries_result{slope, measurement::coverage_factor(0.95, n - 2.0) * u};
}

}  // namespace rewound::checks
