// SPDX-License-Identifier: MIT
#pragma once

#include <optional>
#include <vector>

#include <rewound/checks/cooling.hpp>
#include <rewound/checks/heat_run.hpp>
#include <rewound/record/insulation_class.hpp>
#include <rewound/verdict/finding.hpp>
#include <rewound/verdict/policy.hpp>

namespace rewound::verdict::rules {

/// One heat run and what is known round it. Kelvins.
struct heat_run_facts {
  bool by_resistance = true;  ///< of the heating readings
  checks::heat_run_result heating;
  double common_uncertainty = 0.0;  ///< standard, shared by all heating readings
  std::optional<checks::cooling_result> cooling;
  std::optional<measurement::uncertain<double>> at_switch_off;  ///< rise from the cooling readings
  std::optional<record::insulation_class> insulation_class;
  bool appliance = false;  ///< an appliance class is stated
  std::optional<double> rated_power_W;
  double ambient_C = 0.0;
  std::optional<double> supply_V;  ///< today's mains, where the fitted draw reaches it
  double rated_V = 0.0;
  std::optional<double> run_V;  ///< that the run was made at; absent: taken to be the rated one
  double loss_ratio = 1.0;      ///< of the losses on that mains
  bool by_watts = false;        ///< what the losses are taken from; else from the current squared
};

/// A heat run that was made: its final rise decides, against the class's limit by conformity probability.
std::vector<finding> heat_run(const heat_run_facts& facts, const policy& rules);

}  // namespace rewound::verdict::rules

#ifndef REWOUND_COMPILED
#include <rewound/verdict/impl/rules/heat_run.hpp>
#endif
