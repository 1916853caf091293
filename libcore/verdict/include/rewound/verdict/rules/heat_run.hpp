// SPDX-License-Identifier: MIT
#pragma once

#include <optional>
#include <vector>

#include <rewound/checks/cooling.hpp>
#include <rewound/checks/heat_run.hpp>
#include <rewound/measurement/uncertain.hpp>
#include <rewound/record/record.hpp>
#include <rewound/verdict/finding.hpp>
#include <rewound/verdict/policy.hpp>

namespace rewound::verdict::rules {

/// The losses on today's mains, where the fitted draw reaches it.
struct losses_on_mains {
  double ratio;   ///< over those of the run
  bool by_watts;  ///< taken from the watts; else from the current squared
};

/// What a heat run came to. Kelvins.
struct heat_results {
  checks::heat_run_result heating;
  double common_uncertainty = 0.0;  ///< standard, shared by all heating readings
  std::optional<checks::cooling_result> cooling = {};
  std::optional<measurement::uncertain<double>> at_switch_off = {};  ///< rise from the cooling readings
  std::optional<losses_on_mains> on_mains = {};
  bool entries_doubted = false;  ///< its temperatures contradict others of the record
};

/// A heat run that was made: its final rise decides, against the class's limit by conformity probability.
std::vector<finding> heat_run(const record::visit_record& in, const heat_results& found, const policy& rules);

}  // namespace rewound::verdict::rules

#ifndef REWOUND_COMPILED
#include <rewound/verdict/impl/rules/heat_run.hpp>
#endif
