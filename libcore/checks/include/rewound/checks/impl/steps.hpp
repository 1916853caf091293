// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <numeric>
#include <string>
#include <vector>

#include <rewound/base/compiled.hpp>
#include <rewound/base/expect.hpp>
#include <rewound/checks/steps.hpp>
#include <rewound/measurement/normal.hpp>

namespace rewound::checks {

namespace detail {

inline speed_step step_between(const speed_level& fast, const speed_level& slow, double share) {
  const double difference = fast.log_current - slow.log_current;
  const double u = std::max(std::hypot(fast.log_uncertainty, slow.log_uncertainty), 1e-9);
  const double margin = std::log1p(share);
  const double in_order = 1.0 - measurement::normal_probability((margin - difference) / u);
  const double inverted = measurement::normal_probability((-margin - difference) / u);
  return {difference, u, in_order, std::max(0.0, 1.0 - in_order - inverted), inverted};
}

}  // namespace detail

REWOUND_INLINE step_flag order_flag(const std::vector<std::size_t>& order) {
  const std::size_t n = order.size();
  bool reversed = n > 2;
  for (std::size_t i = 0; i < n; ++i) reversed = reversed && order[i] == n - 1 - i;
  return reversed ? step_flag::reversed : step_flag::swapped;
}

REWOUND_INLINE steps_result steps(const steps_input& in) {
  base::expect(in.speeds.size() >= 2, "speeds", static_cast<double>(in.speeds.size()), "two speeds or more");
  steps_result out{step_flag::unclear, {}, std::vector<std::size_t>(in.speeds.size()), 1.0};
  double worst_inverted = 0.0;
  double worst_merged = 0.0;
  for (std::size_t i = 0; i + 1 < in.speeds.size(); ++i) {
    out.steps.push_back(detail::step_between(in.speeds[i], in.speeds[i + 1], in.merged_share));
    out.certainty *= out.steps.back().in_order;
    worst_inverted = std::max(worst_inverted, out.steps.back().inverted);
    worst_merged = std::max(worst_merged, out.steps.back().no_step);
  }
  std::iota(out.best_order.begin(), out.best_order.end(), std::size_t{0});
  std::stable_sort(out.best_order.begin(), out.best_order.end(),
                   [&](std::size_t a, std::size_t b) { return in.speeds[a].log_current > in.speeds[b].log_current; });
  if (worst_inverted >= in.certain) {
    out.flag = order_flag(out.best_order);
    out.certainty = worst_inverted;
  } else if (worst_merged >= in.certain) {
    out.flag = step_flag::merged;
    out.certainty = worst_merged;
  } else if (out.certainty >= in.certain) {
    out.flag = step_flag::in_order;
  }
  return out;
}

}  // namespace rewound::checks
