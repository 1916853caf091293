// SPDX-License-Identifier: MIT
#pragma once

#include <optional>
#include <string>
#include <vector>

#include <rewound/checks/order.hpp>
#include <rewound/checks/steps.hpp>
#include <rewound/record/record.hpp>
#include <rewound/verdict/finding.hpp>
#include <rewound/verdict/policy.hpp>

namespace rewound::verdict::rules {

/// What currents, rpm and good machines say of the listed speeds.
struct compared_steps {
  std::vector<std::string> without_curve;           ///< speeds whose current is not known
  std::optional<checks::steps_result> result;       ///< absent with fewer than two curves
  std::optional<double> common_voltage_V;           ///< where the speeds were compared
  std::vector<double> rotation_rpm;                 ///< of every speed there; empty unless all were read
  std::optional<checks::order_result> beside_good;  ///< which speed each run is, judged by good machines
  bool ohms_in_order = false;      ///< from common every slower speed's lead shows more ohms than the next faster one's
  bool own_curve_falls = false;    ///< the fastest speed takes less current on less voltage, over a wide run-up
  std::vector<std::size_t> equal;  ///< speeds of which the next slower one shows the same amperes, digit for digit
};

/// The finding on the steps, with what the summary of a result takes from it.
struct steps_judgement {
  verdict::finding finding;
  std::optional<checks::step_flag> flag;
  std::vector<std::size_t> best_order;  ///< places of the speeds, by what they really are, fastest first
};

/// The order of the speeds. "Faster draws more" is a tendency of the trade's designs (no standard); good machines of
/// the model outrank it, and so does rpm; where the arrangement promises no order, currents alone decide nothing.
steps_judgement steps(const record::visit_record& in, const compared_steps& compared, const policy& rules);

}  // namespace rewound::verdict::rules

#ifndef REWOUND_COMPILED
#include <rewound/verdict/impl/rules/steps.hpp>
#endif
