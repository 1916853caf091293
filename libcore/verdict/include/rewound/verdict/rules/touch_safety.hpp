// SPDX-License-Identifier: MIT
#pragma once

#include <optional>
#include <string>
#include <vector>

#include <rewound/checks/earth.hpp>
#include <rewound/checks/leakage.hpp>
#include <rewound/record/appliance_class.hpp>
#include <rewound/record/leakage_kind.hpp>
#include <rewound/verdict/finding.hpp>
#include <rewound/verdict/policy.hpp>

namespace rewound::verdict::rules {

using record::leakage_kind;

/// What is known of the protection against shock: which of leakage and earth continuity is due follows from it.
struct touch_facts {
  std::optional<record::appliance_class> appliance_class;
  std::optional<bool> frame_earthed;
  double rated_voltage_V = 0.0;
  double rated_frequency_Hz = 0.0;  ///< which tells the market, unless the policy does
  struct leakage_reading {
    std::string condition;
    double current_mA;
    double standard_uncertainty_mA;
    leakage_kind kind = leakage_kind::appliance;
    std::optional<double> voltage_V = {};  ///< at which it was read
    double factor = 1.0;                   ///< that brings it up to the full voltage
    double capacitance_nF = 0.0;           ///< that alone would leak this; 0: not worked out
    double least_mA = 0.0;                 ///< what any winding's capacitance lets through; 0: not worked out
  };
  std::vector<leakage_reading> leakage;
  std::optional<double> earth_ohm;
  double earth_standard_uncertainty_ohm = 0.0;
  std::optional<bool> portable = {};
  double full_voltage_V = 0.0;                            ///< at which leakage counts
  std::vector<checks::leakage_combination> missing = {};  ///< of polarity and switch
  bool conditions_stated = true;                          ///< some reading states its polarity and switch
  std::optional<double> cord_m = {};
  std::optional<double> other_cord_m = {};  ///< what another entry says of the same cord
  checks::earth_result earth = {};
};

enum class earthing { earthed, not_earthed, low_voltage, unknown, contradiction };

/// Class I has an earthed frame; 0, 0I and II have none; III lives from a safety extra-low voltage.
earthing earthing_of(const touch_facts& facts);

/// Leakage: due where the frame is not earthed; judged wherever it was read, each reading by itself, so that the worst
/// decides.
std::vector<finding> leakage(const touch_facts& facts, const policy& rules);

/// Earth continuity: due where the frame is earthed; judged wherever it was read.
std::vector<finding> earth(const touch_facts& facts, const policy& rules);

}  // namespace rewound::verdict::rules

#ifndef REWOUND_COMPILED
#include <rewound/verdict/impl/rules/touch_safety.hpp>
#endif
