// SPDX-License-Identifier: MIT
#pragma once

#include <string>

#include <rewound/verdict/finding.hpp>
#include <rewound/verdict/policy.hpp>

namespace rewound::verdict::rules {

/// Unbalance of the line currents of one speed at its highest voltage, with its standard uncertainty in percent.
inline finding unbalance(const std::string& speed, double percent, double standard_uncertainty, const policy& rules) {
  const auto allowed = rules.practice("current_unbalance_percent");
  finding f{.check = check::unbalance, .subject = speed, .says = statement::unbalance_of_lines,
            .quantity = "current_unbalance", .source = allowed.source};
  set_value(f, percent, standard_uncertainty, "%");
  f.limit_high = allowed.value;
  f.outcome = rules.judge(percent, standard_uncertainty, {{}, allowed.value});
  return f;
}

}  // namespace rewound::verdict::rules
