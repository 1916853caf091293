// SPDX-License-Identifier: MIT
#pragma once

#include <optional>
#include <string>
#include <vector>

#include <rewound/checks/rolled_leads.hpp>
#include <rewound/measurement/uncertain.hpp>
#include <rewound/verdict/finding.hpp>
#include <rewound/verdict/limit_tables.hpp>
#include <rewound/verdict/policy.hpp>

namespace rewound::verdict::rules {

/// What the lines of one speed show at its highest voltage.
struct compared_lines {
  measurement::uncertain<double> current_percent;
  std::optional<measurement::uncertain<double>> voltage_percent;  ///< where the line voltages were read
  std::optional<checks::rolled_leads_result> rolled;
  bool rolled_elsewhere = false;  ///< with rolled leads it was read, but at no voltage near this one
};

/// Share of the rated output on line voltages of this unbalance; absent beyond the table's last row.
std::optional<double> voltage_unbalance_derating(double percent);

/// Unbalance of line currents of one speed at its highest voltage: the machine's own where the leads were rolled, and
/// what the line voltages explain where they were read.
std::vector<finding> unbalance(const std::string& speed, double voltage_V, const compared_lines& lines,
                               const policy& rules);

}  // namespace rewound::verdict::rules

#ifndef REWOUND_COMPILED
#include <rewound/verdict/impl/rules/unbalance.hpp>
#endif
