// SPDX-License-Identifier: MIT
#pragma once

#include <string>
#include <vector>

#include <rewound/checks/no_load.hpp>
#include <rewound/checks/power_factor.hpp>
#include <rewound/verdict/finding.hpp>
#include <rewound/verdict/policy.hpp>

namespace rewound::verdict::rules {

/// Loss separation of one speed that ran with a bare shaft.
struct no_load_facts {
  std::string speed;
  bool resistance_known;
  bool rotor_subtracted;  ///< R2 / 4 of a single-phase machine
  bool second_winding;    ///< carries current at no load, and its loss is not known apart
  checks::no_load_result result;
};

/// Power factor of one speed near its rated voltage.
struct power_factor_facts {
  std::string speed;
  double voltage_V;
  double power_W;
  checks::power_factor_result result;
};

/// Friction and windage, and core loss, at no load; for information: no standard limits them.
std::vector<finding> no_load(const no_load_facts& facts, const policy& rules);

/// Power factor, apparent and reactive power near the rated voltage; for information.
finding power_factor(const power_factor_facts& facts);

}  // namespace rewound::verdict::rules

#ifndef REWOUND_COMPILED
#include <rewound/verdict/impl/rules/no_load.hpp>
#endif
