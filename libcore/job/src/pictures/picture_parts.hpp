// SPDX-License-Identifier: MIT
#pragma once

#include <optional>

#include <rewound/job/pictures.hpp>

#include "judging/judge_parts.hpp"

namespace rewound::job {

/// The heat run in rises, and where it is going; absent where none was made. Stands beside the judgement of heat runs,
/// whose scale from ohms to kelvins it shares.
std::optional<heat_picture> heat_picture_of(const visit_facts& now, const verdict::policy& policy);

/// Adds a point; without an interval where `low` is absent.
inline void add_point(drawn_curve& to, double x, double y, std::optional<double> low = {},
                      std::optional<double> high = {}) {
  to.x.push_back(x);
  to.y.push_back(y);
  if (low) to.low.push_back(*low);
  if (high) to.high.push_back(*high);
}

}  // namespace rewound::job
